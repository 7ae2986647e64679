package main

import (
	"context"
	"io"
	"math"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/fold"
	"heaterd/alerts/outcome"
	"heaterd/config"
)

// replayed gives the outcomes of a capture in the order of the command.
func replayed(t testing.TB, cfg *config.Config, capture string) []any {
	t.Helper()
	var got []any
	out := func(v any) error { got = append(got, v); return nil }
	engine := fold.New(cfg.Fleet, rulesOf(cfg))
	if err := foldCapture(context.Background(), engine, newUnused(cfg, engine), io.Reader(strings.NewReader(capture)), out); err != nil {
		t.Fatal(err)
	}
	if err := finish(engine, out); err != nil {
		t.Fatal(err)
	}
	return got
}

var strangers = []nodeStyle{
	{name: "one pack, ow urn", base: "urn:dev:ow:%s:", ut: true, whole: true, refuel0: true, every: 30, zone: "Europe/Dublin", noise: 0.5},
	{name: "one pack, all sensors", base: "%s/", whole: true, extras: true, every: 30, zone: "America/Denver", band: 1, counter: 7200, noise: 0.5},
	{name: "message for each quantity", base: "%s/", each: true, whole: true, refuel0: true, every: 60, zone: "UTC", band: 2, noise: 1},
	{name: "no time, no base", base: "", each: true, noTime: true, whole: true, every: 30, zone: "UTC", noise: 0.5},
	{name: "two minutes and loss", base: "%s:", whole: true, refuel0: true, every: 120, loss: 0.05, zone: "UTC", band: 0, counter: 123456, noise: 1},
	{name: "shuffled and twice", base: "", whole: false, refuel0: true, extras: true, every: 60, shuffle: 590, twice: 0.2, zone: "UTC", band: 2, noise: 1},
	{name: "ten seconds", base: "", whole: true, every: 10, zone: "UTC", band: 1, noise: 0.5},
}

func TestForeign(t *testing.T) {
	for i, s := range strangers {
		if testing.Short() && i > 1 {
			break
		}
		s.days = 4
		t.Run(s.name, func(t *testing.T) {
			t.Parallel()
			w := newStranger(uint64(i+1), s)
			w.offDays = i%2 == 0
			w.run()
			burns, alarms, hours, air := w.replay(t)
			w.checkBurns(t, burns)
			w.checkHours(t, hours)
			w.checkAir(t, air)
			w.checkAlarms(t, alarms)
		})
	}
}

func (w *stranger) checkBurns(t *testing.T, burns []outcome.Burn) {
	c := confusion{}
	by := map[string][]outcome.Burn{}
	for _, b := range burns {
		by[b.Heater] = append(by[b.Heater], b)
	}
	for _, h := range w.heaters {
		used := make([]bool, len(by[h.id]))
		for k, e := range h.ends {
			best, off := -1, time.Duration(w.every+5)*time.Second
			for i, b := range by[h.id] {
				d := b.End.Sub(instant(e.end)).Abs()
				if b.Ending == outcome.Unknown && b.Start <= instant(e.end) && b.End >= instant(e.start) {
					d = 0
				}
				if !used[i] && d <= off {
					best, off = i, d
				}
			}
			if best < 0 {
				c[[2]string{e.why, missed}]++
				t.Logf("%s burn %d %v to %v %s (%d samples) missed", h.id, k, instant(e.start), instant(e.end), e.why, e.seen)
				continue
			}
			used[best] = true
			b := by[h.id][best]
			if string(b.Ending) != e.why {
				t.Logf("%s %v to %v is %s, found %s: %q (%v)", h.id, instant(e.start), instant(e.end), e.why, b.Ending, b.Evidence, off)
			}
			c[[2]string{e.why, string(b.Ending)}]++
		}
		for i, b := range by[h.id] {
			if !used[i] {
				c[[2]string{missed, string(b.Ending)}]++
				t.Logf("%s %v to %v invented %s %q", h.id, b.Start, b.End, b.Ending, b.Evidence)
			}
		}
	}
	t.Logf("\n%v", c)
	right, all := 0, 0
	for k, n := range c {
		if k[1] == missed && k[0] == string(outcome.Unknown) {
			continue // burns of one silence merge into one
		}
		all += n
		if k[0] == k[1] {
			right += n
		}
	}
	if float64(right) < 0.97*float64(all) {
		t.Errorf("%d of %d endings are right, want 97 %%", right, all)
	}
}

// checkAlarms wants one alarm for a site that went out together, not one a
// heater, and something said of every tank that ran low.
func (w *stranger) checkAlarms(t *testing.T, alarms []outcome.Alarm) {
	kinds := map[string]int{}
	for _, a := range alarms {
		kinds[a.Kind+" "+a.State]++
		if a.Kind == "shutdown-unexplained" && a.State == "unacknowledged" && a.Heater == "" {
			kinds["together"]++
		}
	}
	t.Logf("alarms: %v", kinds)
	events, last := 0, -1000
	for _, h := range w.heaters {
		for _, e := range h.ends {
			if e.why == string(outcome.SiteWide) && e.end != last {
				last = e.end
				events++
			}
		}
	}
	if kinds["together"] > events {
		t.Errorf("%d alarms for a whole site, at most %d events", kinds["together"], events)
	}
	if kinds["fuel-low unacknowledged"] == 0 || kinds["node-silent unacknowledged"] == 0 {
		t.Error("no word of a low tank, or none of a silent node")
	}
}

func (w *stranger) checkHours(t *testing.T, hours []outcome.Hours) {
	for i, h := range w.heaters {
		burned := 100 + h.final/3600
		g := hours[i]
		if g.Low > burned || g.High < burned || math.Abs(g.Hours-burned) > 0.1 || g.High-g.Low > 0.2 || g.Ignitions != h.starts || g.Burns != len(h.ends) {
			t.Logf("%s true %.4f h %d starts %d ends: got %+v", h.id, burned, h.starts, len(h.ends), g)
		}
		if g.Low > burned || g.High < burned {
			t.Errorf("%s: %.4f h lie outside %.4f to %.4f", h.id, burned, g.Low, g.High)
		}
	}
}

func (w *stranger) checkAir(t *testing.T, air []outcome.Exposure) {
	for i, r := range w.rooms {
		g := air[i]
		ach := math.NaN()
		if g.AirChangesPH != nil {
			ach = *g.AirChangesPH
		}
		if math.Abs(g.TWA15PPM-r.twa15) > 1.5 || math.Abs(g.TWA8hPPM-r.twa8) > 1 || math.Abs(g.PeakPPM-r.peak) > 5*w.noise+0.5 {
			t.Errorf("%s: %+v, want peak %.1f, 15 min %.2f, 8 h %.2f", r.id, g, r.peak, r.twa15, r.twa8)
		}
		if g.AirChangesPH != nil && w.noise <= 0.5 && math.Abs(ach-r.ach) > 0.35*r.ach+0.2 {
			t.Errorf("%s: %.2f air changes an hour, want %.2f", r.id, ach, r.ach)
		}
		t.Logf("%s peak %.1f/%.1f twa15 %.2f/%.2f twa8 %.2f/%.2f coverage %.3f air %.2f/%.2f cohb %.2f", r.id, g.PeakPPM, r.peak, g.TWA15PPM, r.twa15, g.TWA8hPPM, r.twa8, g.Coverage, ach, r.ach, g.COHbPercent)
	}
}
