package fold_test

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/outcome"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// sooty is a heater behind whose photocell's window nobody sees the flame at some
// readings, second by second.
type sooty struct {
	lit     []bool
	fails   [][2]int       // from when to when it was out though it was not to be, s
	every   int            // s between readings
	step    int            // s, of its counter
	runsOn  int            // s for which that goes on after a stop
	misses  func(int) bool // which readings of a flame see none
	told    []outcome.Burn // what came of it
	counter int            // s
	away    [2]int         // readings from one to before another come together, by the network
	kept    []reading.Sample
}

// cycled burns and stands still for uneven times, and fails now and then.
func cycled(days int, failsFor ...int) *sooty {
	h := &sooty{lit: make([]bool, days*86_400)}
	for t, i := 100, 0; t < len(h.lit)-2000; i++ {
		on := 500 + i*i*37%401
		for s := range on {
			h.lit[t+s] = true
		}
		if len(failsFor) > 0 && i > 80 && i%7 == 0 {
			from, long := t+on/2, failsFor[i/7%len(failsFor)]
			h.fails = append(h.fails, [2]int{from, from + long})
			for s := range long {
				h.lit[from+s] = false
			}
		}
		t += on + 600 + i*i*53%397
	}
	return h
}

// missing misses so many in a thousand readings.
func missing(perMille uint64) func(int) bool {
	return func(i int) bool {
		x := uint64(i+1) * 0x9e3779b97f4a7c15
		return (x^x>>29)*0xbf58476d1ce4e5b9>>40%1000 < perMille
	}
}

// watch has the unit on heater 0 tell of it.
func (p *play) watch(h *sooty) {
	out := h.runsOn
	for t, lit := range h.lit {
		if out++; lit {
			out = 0
		}
		if out < max(1, h.runsOn) {
			h.counter++
		}
		if (t+1)%h.every != 0 {
			continue
		}
		p.now = benchStart.Add(time.Duration(t+1) * time.Second)
		x := reading.Sample{At: p.now, Has: reading.Flame | reading.Runtime, Runtime: float64(h.counter / h.step * h.step)}
		if lit && !h.misses(t/h.every) {
			x.On = reading.Flame
		}
		if h.kept = append(h.kept, x); t/h.every >= h.away[0] && t/h.every < h.away[1] {
			continue
		}
		e := p.engine.Step(record.Line{At: p.now, Pack: &reading.Pack{Node: "n-0", Samples: h.kept}})
		h.kept = nil
		h.told, p.said = append(h.told, e.Burns...), append(p.said, e.Transitions...)
	}
}

// finish gives the hours, and how many burns ended from a day on.
func (p *play) finish(h *sooty, day int) (n int, hours outcome.Hours) {
	out := p.engine.Finish()
	h.told = append(h.told, out.Burns...)
	for _, b := range h.told {
		if b.End >= benchStart.Add(time.Duration(day)*24*time.Hour) {
			n++
		}
	}
	return n, out.Hours[0]
}

// A flame that a reading misses now and then, while a counter that stops with it
// runs on, did not go out.
func TestAFlameThatIsNotSeenBurnsOn(t *testing.T) {
	for _, every := range []int{10, 30, 120} {
		for _, step := range []int{1, 6} {
			t.Run(fmt.Sprint(every, " s apart, steps of ", step), func(t *testing.T) {
				clean, dim := failing(t), failing(t)
				a, b := cycled(5), cycled(5)
				a.every, a.step, a.misses = every, step, missing(0)
				b.every, b.step, b.misses = every, step, missing(20)
				clean.watch(a)
				dim.watch(b)
				if v := dim.view(); !v.Sooty || clean.view().Sooty {
					t.Errorf("sooty: %v, and without a miss: %v", v.Sooty, clean.view().Sooty)
				}
				if alarms := dim.engine.View().Alarms; every < 120 && !slices.ContainsFunc(alarms, saysSooty) {
					t.Error("nobody is told to think of the window")
				}
				want, w := clean.finish(a, 2)
				got, g := dim.finish(b, 2)
				if got-want > want/12 {
					t.Errorf("%d burns in three days, want %d", got, want)
				}
				if g.Hours-w.Hours > 0.01 || w.Hours-g.Hours > 0.01 || g.High-g.Low > w.High-w.Low+0.5 {
					t.Errorf("hours %.3f (%.3f to %.3f), want %.3f", g.Hours, g.Low, g.High, w.Hours)
				}
			})
		}
	}
}

func saysSooty(a alarm.Alarm) bool {
	return a.Kind == alarm.ShutdownsRepeating && strings.Contains(strings.Join(a.Findings.Evidence, "; "), "window may be sooty")
}

// A flame that failed and lit again by itself was out, however sooty the window.
func TestAFlameThatFailsBehindASootyWindow(t *testing.T) {
	for _, every := range []int{10, 30, 120} {
		for _, step := range []int{1, 6} {
			t.Run(fmt.Sprint(every, " s apart, steps of ", step), func(t *testing.T) {
				p, h := failing(t), cycled(5, 16, 22, 35, 61, 95, 150, 240)
				h.every, h.step, h.misses = every, step, missing(20)
				p.watch(h)
				p.finish(h, 0)
				for _, f := range h.fails {
					dark := false // at a reading
					for s := f[0]; s < f[1]; s++ {
						dark = dark || (s+1)%every == 0
					}
					if dark && !endsAbout(h.told, f[0], every) {
						t.Errorf("the flame was out from %d s to %d s, and no burn ends there", f[0], f[1])
					}
				}
			})
		}
	}
}

func endsAbout(burns []outcome.Burn, s, within int) bool {
	at := benchStart.Add(time.Duration(s) * time.Second)
	for _, b := range burns {
		if b.End.Sub(at).Abs() <= time.Duration(within+7)*time.Second {
			return true
		}
	}
	return false
}

// What disproves a reading may come an hour later, with what a unit kept.
func TestWhatDisprovesAReadingMayComeLate(t *testing.T) {
	tell := func(from, to int) []outcome.Burn {
		p, h := failing(t), cycled(3)
		h.every, h.step, h.misses, h.away = 60, 1, missing(20), [2]int{from, to}
		p.watch(h)
		p.finish(h, 0)
		return h.told
	}
	want, day, tried := tell(0, 0), 24*60, 0
	for i := 2 * day; tried < 6; i++ {
		if missing(20)(i) {
			tried++
			if got := tell(i+1, i+60); !reflect.DeepEqual(got, want) {
				t.Errorf("%d burns where the unit was away after reading %d, else %d", len(got), i, len(want))
			}
		}
	}
}

// A counter that runs on after the stops proves no flame.
func TestACounterThatRunsOnProvesNoFlame(t *testing.T) {
	for _, every := range []int{10, 30, 120} {
		for _, on := range []int{20, 60, 110} {
			p, h := failing(t), cycled(4)
			h.every, h.step, h.runsOn, h.misses = every, 1, on, missing(20)
			p.watch(h)
			if p.view().Sooty {
				t.Errorf("%d s apart, on for %d s: believed", every, on)
			}
		}
	}
}

// Behind a sooty window an ending waits for the next reading where the counter ran
// on until the flame was not seen. It is told with that, or when that fails to
// come, also where the heater has lit again meanwhile.
func TestAnEndingThatMayBeNoneWaitsForTheNextReading(t *testing.T) {
	dark, lit := reading.Quantity(0), reading.Quantity(reading.Flame)
	for name, c := range map[string]struct {
		next   reading.Quantity // what the next reading sees
		gained float64          // s, what its counter gained
		silent bool             // it does not come
		told   int
	}{
		"it burned on":     {lit, 120, false, 0},
		"it was out":       {dark, 0, false, 1},
		"it has lit again": {lit, 60, false, 1},
		"nothing comes":    {dark, 0, true, 1},
	} {
		t.Run(name, func(t *testing.T) {
			p, h := failing(t), cycled(4)
			h.every, h.step, h.misses = 120, 1, missing(20)
			p.watch(h)
			x := reading.Sample{At: p.now, Has: reading.Flame | reading.Runtime, Runtime: float64(h.counter)}
			say := func(on reading.Quantity, gained float64, meanwhile func()) {
				p.wait(100 * time.Second)
				meanwhile()
				p.now = p.now.Add(20 * time.Second)
				x.At, x.On, x.Runtime = p.now, on, x.Runtime+gained
				p.send("n-0", x)
			}
			nothing := func() {}
			for range 10 {
				say(lit, 120, nothing)
			}
			before := p.count(alarm.ShutdownUnexplained, alarm.Unacknowledged)
			told := func() int { return p.count(alarm.ShutdownUnexplained, alarm.Unacknowledged) - before }
			waits := func() {
				if told() != 0 {
					t.Error("told before the next reading")
				}
			}
			say(dark, 120, nothing)
			if c.silent {
				p.wait(100 * time.Second)
				waits()
				p.wait(2 * time.Minute)
			} else {
				say(c.next, c.gained, waits)
			}
			if told() != c.told {
				t.Errorf("told %d times, want %d", told(), c.told)
			}
			say(c.next, c.gained, nothing)
			if p.active(alarm.ShutdownUnexplained) != (c.next == dark) {
				t.Error("it does not stand for as long as the heater is out")
			}
		})
	}
}

// Another unit has another window.
func TestAnotherUnitHasACleanWindow(t *testing.T) {
	p, h := failing(t), cycled(2)
	h.every, h.step, h.misses = 30, 1, missing(20)
	p.watch(h)
	before := p.view().Sooty
	p.step(record.Line{Entry: &record.Entry{Heater: "H-0", Task: "fit-node", Node: "spare"}})
	p.burn(time.Minute, "spare")
	if after := p.view().Sooty; !before || after {
		t.Errorf("sooty before: %v, after: %v", before, after)
	}
}
