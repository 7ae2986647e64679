package main

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/outcome"
	"heaterd/config"
	"heaterd/ingest/reading"
)

// The stranger is a second, cruder model of a site, written from the public
// formats alone: it shares nothing with the jobsites of the demo, so that
// what both get right is not an agreement between one model and itself.

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
	shuffle int // s
	twice   float64
	zone    string
	noise   float64
	days    int // 0: 6
}

type strangeHeater struct {
	id, node       string
	room           *strangeRoom
	on, off        float64
	thermo, lit    bool
	call           bool
	tank, fuel     float64
	rate           float64 // L/s
	counter, burnt float64
	start          int
	blocked        int // no light before
	mayLight       bool
	stop           int // planned until
	dark           int // node dead until
	darks          [][2]int
	buffer         int // node off the network until
	held           []strangeLine
	noSupply       int
	clock          int
	ends           []strangeEnd
	starts         int
	final          float64 // s burnt at the last line
	leaky          bool
	noRefuel       bool
	seen           int
	phase          int
}

type strangeEnd struct {
	start, end int
	why        string
	seen       int
}

type strangeRoom struct {
	id          string
	t, co       float64
	ach         float64
	gain, loss  float64
	source      float64
	peak        float64
	ppm         []float32
	heaters     []*strangeHeater
	twa15, twa8 float64
	sum15, sum8 float64
}

type strangeLine struct {
	at   float64 // s after the start
	text string
}

type stranger struct {
	nodeStyle
	rng      *rand.Rand
	rooms    []*strangeRoom
	heaters  []*strangeHeater
	lines    []strangeLine
	agenda   map[int][]func()
	now      int
	offDays  bool
	location *time.Location
	off      bool
}

var strangeStart = time.Date(2026, 3, 26, 6, 0, 0, 0, time.UTC) // over the change to summer time in Dublin

func newStranger(seed uint64, s nodeStyle) *stranger {
	if s.days == 0 {
		s.days = 6
	}
	w := &stranger{nodeStyle: s, rng: rand.New(rand.NewPCG(seed, 99)), agenda: map[int][]func(){}}
	w.location, _ = time.LoadLocation(s.zone)
	for r := range 3 {
		w.rooms = append(w.rooms, &strangeRoom{
			id: fmt.Sprintf("room%d", r), t: 9, co: 1, ach: 1 + float64(r), gain: 14, loss: 1.0 / 2.5, source: 0,
		})
	}
	for i := range 6 {
		w.addHeater(i)
	}
	return w
}

func (w *stranger) addHeater(i int) {
	h := &strangeHeater{
		id: fmt.Sprintf("H-%02d", i), node: fmt.Sprintf("n-%02d", i), room: w.rooms[i%3],
		thermo: i != 5, tank: 52, fuel: 52, rate: 4.4 / 3600, counter: w.counter, mayLight: true, call: true,
		phase: w.rng.IntN(w.every), leaky: i%3 == 1,
	}
	set, diff := 12.0, 2.0
	switch w.band {
	case 0:
		h.on, h.off = set-diff, set
	case 1:
		h.on, h.off = set-diff/2, set+diff/2
	default:
		h.on, h.off = set, set+diff
	}
	h.room.heaters = append(h.room.heaters, h)
	w.heaters = append(w.heaters, h)
	if w.refuel0 {
		w.write(0, fmt.Sprintf(`"entry":{"heater":%q,"task":"refuel","by":"Kim"}`, h.id))
	}
}

func (w *stranger) yaml() string {
	var b strings.Builder
	fmt.Fprintf(&b, "version: 1\nsites:\n  - id: quay\n    time_zone: %s\n    limits: us-niosh\n    activity: rest\n    spaces:\n", w.zone)
	for _, r := range w.rooms {
		fmt.Fprintf(&b, "      - { id: %s, volume_m3: 900, protect_above_c: 4 }\n", r.id)
	}
	if w.offDays {
		b.WriteString("    planned_off: [{ days: [sat, sun], from: \"18:00\", to: \"05:00\" }]\n")
	}
	b.WriteString("heaters:\n")
	for _, h := range w.heaters {
		fmt.Fprintf(&b, "  - id: %s\n    node: %s\n    site: quay\n    space: %s\n    burn_l_per_h: 4.4\n    tank_l: 52\n    hours_at_start: 100\n", h.id, h.node, h.room.id)
		if h.thermo {
			b.WriteString("    thermostat: { setpoint_c: 12, differential_c: 2 }\n")
		}
	}
	return b.String()
}

func (w *stranger) at(s float64) time.Time {
	return strangeStart.Add(time.Duration(s * float64(time.Second)))
}

func (w *stranger) write(s float64, body string) {
	w.lines = append(w.lines, strangeLine{s, body})
}

func (w *stranger) later(s int, f func()) { w.agenda[w.now+s] = append(w.agenda[w.now+s], f) }

func (w *stranger) outside() float64 {
	return -2 + 4*math.Sin(2*math.Pi*float64(w.now)/86400)
}

// scheduledOff is the site's planned hours: Saturday and Sunday evenings.
func (w *stranger) scheduledOff() bool {
	if !w.offDays {
		return false
	}
	t := w.at(float64(w.now)).In(w.location)
	h, d := t.Hour(), t.Weekday()
	evening := h >= 18 && (d == time.Saturday || d == time.Sunday)
	return evening || h < 5 && (d == time.Sunday || d == time.Monday)
}

func (w *stranger) out(h *strangeHeater, why string) {
	if !h.lit {
		return
	}
	h.lit = false
	h.ends = append(h.ends, strangeEnd{start: h.start, end: w.now, why: why, seen: h.seen})
	h.blocked = max(h.blocked, w.now+40)
}

func (w *stranger) step(h *strangeHeater) {
	if h.thermo {
		switch {
		case h.room.t >= h.off:
			h.call = false
		case h.room.t <= h.on:
			h.call = true
		}
	}
	off := w.off || h.stop > w.now
	supplied := h.noSupply <= w.now
	switch {
	case h.lit && h.fuel <= 0:
		w.out(h, "fuel-out")
		h.mayLight = false
		w.later(1800+w.rng.IntN(7200), func() { w.refill(h); h.mayLight, h.noRefuel = true, false })
	case h.lit && off:
		w.out(h, "planned")
	case h.lit && !h.call:
		w.out(h, "satisfied")
	case !h.lit && h.call && !off && supplied && h.mayLight && h.fuel > 0 && h.blocked <= w.now:
		h.lit, h.start, h.seen = true, w.now, 0
		h.starts++
	}
	if h.lit {
		h.counter++
		h.burnt++
		h.fuel -= h.rate
		if h.fuel < 0.2*h.tank && !h.noRefuel {
			h.noRefuel = true
			w.later(600+w.rng.IntN(1800), func() { w.tryRefill(h) })
		}
	}
}

// tryRefill waits for a heater under a thermostat to stop; the other one is
// switched off for the while, which is written down.
func (w *stranger) tryRefill(h *strangeHeater) {
	switch {
	case h.noRefuel && h.leaky && w.rng.IntN(3) == 0: // forgotten: it runs dry
	case h.lit && h.thermo:
		w.later(120, func() { w.tryRefill(h) })
	default:
		if h.lit {
			w.plan(h, 900, 0)
		}
		w.later(200, func() { w.refill(h); h.noRefuel = false })
	}
}

func (w *stranger) refill(h *strangeHeater) {
	h.fuel = h.tank
	w.write(float64(w.now+30), fmt.Sprintf(`"entry":{"heater":%q,"task":"refuel"}`, h.id))
}

// plan switches a heater off; the line is written lead seconds before.
func (w *stranger) plan(h *strangeHeater, d, lead int) {
	line := func() {
		w.write(float64(w.now), fmt.Sprintf(`"planned_stop":{"heater":%q,"for":"%ds"}`, h.id, d))
	}
	act := func() { h.stop = w.now + d }
	if lead >= 0 {
		line()
		w.later(lead, act)
		return
	}
	act()
	w.later(-lead, line)
}

// events of a stranger's week, at random times.
func (w *stranger) script() {
	span := w.days*86400 - 30000
	some := func(n int, f func(h *strangeHeater)) {
		for range n {
			h := w.heaters[w.rng.IntN(len(w.heaters))]
			at, steady := 9000+w.rng.IntN(span-9000), 240+w.rng.IntN(800)
			w.agenda[at] = append(w.agenda[at], func() { w.whenLit(h, steady, f) })
		}
	}
	some(8, func(h *strangeHeater) { // lockout until somebody comes
		w.out(h, "unexplained")
		h.mayLight = false
		w.later(3600+w.rng.IntN(9000), func() { h.mayLight = true })
	})
	some(4, func(h *strangeHeater) { w.out(h, "unexplained") }) // relights by itself
	some(10, func(h *strangeHeater) { w.plan(h, 1800+w.rng.IntN(7200), w.rng.IntN(360)-180) })
	some(6, func(h *strangeHeater) { // the node dies and the flame goes out meanwhile, or not
		h.dark = w.now + 1800 + w.rng.IntN(7200)
		h.darks = append(h.darks, [2]int{w.now, h.dark})
	})
	some(5, func(h *strangeHeater) {
		if w.noTime {
			return
		}
		h.buffer = w.now + 1200 + w.rng.IntN(86400)
	})
	some(2, func(h *strangeHeater) { h.counter = 0 })
	some(1, func(h *strangeHeater) { h.counter = 3_333_333 })
	some(4, func(*strangeHeater) { // supply
		for _, g := range w.heaters {
			g.noSupply = w.now + 900 + 1
			if w.extras {
				w.out(g, "supply-lost")
				continue
			}
		}
		if !w.extras {
			w.together()
		}
	})
}

// together puts out every flame of the site.
func (w *stranger) together() {
	n := 0
	for _, g := range w.heaters {
		if g.lit {
			n++
		}
	}
	why := "site-wide"
	if n < 2 {
		why = "unexplained"
	}
	for _, g := range w.heaters {
		g.blocked = w.now + 900
		w.out(g, why)
	}
}

func (w *stranger) whenLit(h *strangeHeater, steady int, f func(*strangeHeater)) {
	if h.lit && w.now-h.start > steady {
		f(h)
		return
	}
	if w.now < w.days*86400-20000 {
		w.later(30, func() { w.whenLit(h, steady, f) })
	}
}

func (w *stranger) run() {
	w.script()
	for w.now = 0; w.now < w.days*86400; w.now++ {
		if w.now%60 == 0 {
			w.off = w.scheduledOff()
		}
		for _, f := range w.agenda[w.now] {
			f()
		}
		delete(w.agenda, w.now)
		for _, h := range w.heaters {
			w.step(h)
		}
		for _, r := range w.rooms {
			r.second(w.outside())
		}
		for _, h := range w.heaters {
			if w.now%w.every == h.phase {
				w.report(h)
			}
		}
	}
	for _, h := range w.heaters {
		if len(h.held) > 0 {
			w.empty(h)
			w.asOfNow()
		}
		h.unseen()
	}
	sort.SliceStable(w.lines, func(i, j int) bool { return w.lines[i].at < w.lines[j].at })
}

// unseen marks the ends that no node saw.
func (h *strangeHeater) unseen() {
	for i := range h.ends {
		for _, d := range h.darks {
			if e := &h.ends[i]; e.end >= d[0] && e.end <= d[1] {
				e.why = "unknown"
			}
		}
	}
}

func (r *strangeRoom) second(outside float64) {
	n := 0.0
	for _, h := range r.heaters {
		if h.lit {
			n++
		}
	}
	r.t += (outside + n*r.gain - r.t) * r.loss / 3600
	r.co += (n*12*(1+r.source) - r.ach*(r.co-1)) / 3600
	r.peak = max(r.peak, r.co)
	r.ppm = append(r.ppm, float32(r.co))
	r.sum15 += r.co
	r.sum8 += r.co
	if k := len(r.ppm) - 900; k > 0 {
		r.sum15 -= float64(r.ppm[k-1])
	}
	if k := len(r.ppm) - 28800; k > 0 {
		r.sum8 -= float64(r.ppm[k-1])
	}
	r.twa15, r.twa8 = max(r.twa15, r.sum15/900), max(r.twa8, r.sum8/28800)
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
		{"n": "flame", "vb": h.lit},
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
