package main

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/outcome"
	"heaterd/config"
	"heaterd/ingest/reading"
)

// nodeStyle is how the nodes of a stranger speak.
type nodeStyle struct {
	name    string
	base    string // SenML base name; %s is the node
	each    bool   // one message for each quantity
	noTime  bool   // no time in the pack: measured when it arrives
	ut      bool
	band    int // 0 off at the setpoint, 1 half either side, 2 on at the setpoint
	whole   bool
	counter float64 // s at the start
	extras  bool    // supply, call, fuel, battery
	refuel0 bool    // the first filling is written down
	every   int     // s
	loss    float64
	sooty   float64 // share of the readings of a flame that do not see it
	shuffle int     // s
	twice   float64
	zone    string
	noise   float64
	days    int // 0: 6
}

type strangeLine struct {
	at   float64 // s after the start
	text string
}

func (w *stranger) report(h *strangeHeater) {
	if h.lit {
		h.seen++
	}
	if h.dark > w.now {
		return
	}
	lines := w.say(h)
	if h.buffer <= w.now {
		w.asOfNow()
	}
	if h.buffer > w.now {
		h.held = append(h.held, lines...)
		return
	}
	if len(h.held) > 0 {
		w.empty(h)
	}
	if w.rng.Float64() < w.loss {
		return
	}
	for _, l := range lines {
		l.at += 0.2 + float64(w.shuffle)*w.rng.Float64()
		w.lines = append(w.lines, l)
		if w.rng.Float64() < w.twice {
			l.at += 20
			w.lines = append(w.lines, l)
		}
	}
}

// empty sends what was kept, oldest first.
func (w *stranger) empty(h *strangeHeater) {
	for i, l := range h.held {
		l.at = float64(w.now) + 0.001*float64(i)
		w.lines = append(w.lines, l)
	}
	h.held = nil
}

// asOfNow notes the truth at a line: the last one is the end of time.
func (w *stranger) asOfNow() {
	for _, h := range w.heaters {
		h.final = h.burnt
	}
}

func (w *stranger) say(h *strangeHeater) []strangeLine {
	stamp := float64(strangeStart.Unix() + int64(w.now+h.clock))
	count := h.counter
	if !w.whole {
		count += 0.25
	}
	recs := []map[string]any{
		{"n": "flame", "vb": h.lit && (w.sooty == 0 || w.rng.Float64() >= w.sooty)},
		{"n": "runtime", "u": "s", "v": count},
		{"n": "co", "u": "ppm", "v": math.Round(10*(h.room.co+w.noise*w.rng.NormFloat64())) / 10},
		{"n": "temp", "u": "Cel", "v": math.Round(10*(h.room.t+0.05*w.rng.NormFloat64())) / 10},
	}
	if w.extras {
		recs = append(recs,
			map[string]any{"n": "supply", "vb": h.noSupply <= w.now},
			map[string]any{"n": "call", "vb": h.call && h.thermo || !h.thermo},
			map[string]any{"n": "fuel", "u": "/", "v": math.Round(100*max(0, h.fuel/h.tank)) / 100},
			map[string]any{"n": "battery", "u": "%EL", "v": 88})
	}
	base := w.base
	if strings.Contains(base, "%s") {
		base = fmt.Sprintf(base, h.node)
	}
	if w.each {
		var out []strangeLine
		for i, r := range recs {
			if w.noTime {
				r["n"] = base + r["n"].(string)
			} else {
				r["bn"], r["t"] = base, stamp
			}
			out = append(out, w.message(h, float64(i)*0.004, []map[string]any{r}))
		}
		return out
	}
	recs[0]["bn"] = base
	if !w.noTime {
		recs[0]["bt"] = stamp
	}
	if w.ut {
		recs[0]["ut"] = w.every
	}
	return []strangeLine{w.message(h, 0, recs)}
}

func (w *stranger) message(h *strangeHeater, after float64, recs []map[string]any) strangeLine {
	body, _ := json.Marshal(recs)
	quoted, _ := json.Marshal(string(body))
	return strangeLine{float64(w.now) + after, fmt.Sprintf(`"topic":"sites/quay/nodes/%s/telemetry","payload":%s`, h.node, quoted)}
}

// text is the capture file.
func (w *stranger) text() string {
	var b strings.Builder
	for _, l := range w.lines {
		fmt.Fprintf(&b, `{"at":%q,%s}`+"\n", w.at(l.at).Format(time.RFC3339Nano), l.text)
	}
	return b.String()
}

func (w *stranger) replay(t testing.TB) (burns []outcome.Burn, alarms []outcome.Alarm, hours []outcome.Hours, air []outcome.Exposure) {
	t.Helper()
	cfg, err := config.Parse("strange.yaml", []byte(w.yaml()), config.Options{})
	if err != nil {
		t.Fatal(err)
	}
	got := replayed(t, cfg, w.text())
	for _, v := range got {
		switch v := v.(type) {
		case outcome.Burn:
			burns = append(burns, v)
		case outcome.Alarm:
			alarms = append(alarms, v)
		case outcome.Hours:
			hours = append(hours, v)
		case outcome.Exposure:
			air = append(air, v)
		}
	}
	return burns, alarms, hours, air
}

func instant(s int) reading.Instant { return reading.InstantOf(strangeStart).AddSeconds(float64(s)) }
