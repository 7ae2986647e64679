package warmth

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
	"unsafe"

	"heaterd/ingest/reading"
	"pgregory.net/rapid"
)

var epoch = reading.InstantOf(time.Date(2026, 1, 12, 6, 0, 0, 0, time.UTC))

func published(t *testing.T, name, source string, want, got, tol float64) {
	t.Helper()
	t.Logf("%s | %s | expected %g ± %g | got %.6g", name, source, want, tol, got)
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %v, want %v ± %v", name, got, want, tol)
	}
}

func TestPublishedCooling(t *testing.T) {
	const source = "t = τ·ln((T0−Ta)/(Tx−Ta)), computed from the formula"
	got, ok := HoursTo(68, 35, 50, 16.6)
	if !ok {
		t.Fatal("never")
	}
	published(t, "68 °F to 50 °F, outside 35 °F, τ 16.6 h", source, 13.0884, got, 5e-5)
	c := func(f float64) float64 { return (f - 32) / 1.8 }
	got, _ = HoursTo(c(68), c(35), c(50), 16.6)
	published(t, "the same in °C", source, 13.0884, got, 5e-5)
}

func TestHoursToNeverAndAlready(t *testing.T) {
	for _, x := range []struct {
		t0, ta, tx, tau float64
		ok              bool
	}{
		{20, 10, 5, 10, false}, {20, 5, 5, 10, false}, {4, 10, 5, 10, true}, {20, 0, 5, 0, false},
	} {
		if got, ok := HoursTo(x.t0, x.ta, x.tx, x.tau); ok != x.ok || got != 0 {
			t.Errorf("%+v: %v %v", x, got, ok)
		}
	}
}

func ptr(x float64) *float64 { return &x }

func TestColdAndHotHaveADeadBand(t *testing.T) {
	l := Limits{AboveC: ptr(5), BelowC: ptr(30)}
	var s State
	for i, x := range []struct {
		c         float64
		cold, hot bool
	}{
		{6, false, false}, {5, false, false}, {4.9, true, false}, {5.4, true, false}, {5.5, false, false},
		{5.4, false, false}, {30, false, false}, {30.1, false, true}, {29.6, false, true}, {29.5, false, false},
	} {
		s.Apply(epoch.Add(time.Duration(i)*time.Minute), x.c, false, l)
		if s.Cold() != x.cold || s.Hot() != x.hot {
			t.Errorf("%v °C: cold %v hot %v", x.c, s.Cold(), s.Hot())
		}
	}
	var free State
	free.Apply(epoch, -20, false, Limits{})
	if free.Cold() {
		t.Error("cold with nothing to protect")
	}
	free.Apply(epoch.Add(time.Minute), DefaultHotC+1, false, Limits{})
	if !free.Hot() {
		t.Error("no default limit")
	}
}

// hall runs a body with heat by day and none by night.
func hall(tau, outside, noise, step float64, hours float64) (State, float64) {
	rng := rand.New(rand.NewPCG(5, 6))
	var s State
	c := outside
	for x := 0.0; x < hours*3600; x += step {
		lit := math.Mod(x/3600, 24) < 12
		end := outside
		if lit {
			end += 25
		}
		c = end + (c-end)*math.Exp(-step/3600/tau)
		s.Apply(epoch.AddSeconds(x), math.Round((c+noise*rng.NormFloat64())*10)/10, lit, Limits{})
	}
	return s, c
}

func TestOutlookOfACoolingHall(t *testing.T) {
	for _, tau := range []float64{3, 8, 16.6} {
		for _, outside := range []float64{-10, 1.7} {
			for _, step := range []float64{30, 120} {
				for _, hours := range []float64{36, 44, 49} { // the last with the heat on again
					s, c := hall(tau, outside, 0.1, step, hours)
					e, ok := s.Envelope()
					if !ok || math.Abs(e.TauHours-tau) > 0.2*tau || math.Abs(e.OutsideC-outside) > 2.5 {
						t.Errorf("τ %v outside %v: %+v %v", tau, outside, e, ok)
						continue
					}
					limit := outside + (c-outside)*0.6
					want, _ := HoursTo(c, outside, limit, tau)
					o, ok := s.Outlook(limit)
					if !ok || o.Early > want*1.05 || !o.LateNever && o.Late < want*0.95 {
						t.Errorf("τ %v outside %v at %v h: want %v within %+v %v", tau, outside, hours, want, o, ok)
					}
					// with less left to fall the outdoor temperature is not known well enough
					if c-outside > 4 && math.Abs(o.Likely-want) > 0.3*want+0.2 {
						t.Errorf("τ %v outside %v at %v h: want %v, got %+v %v", tau, outside, hours, want, o, ok)
					}
				}
			}
		}
	}
}

func TestOutlookSaysLessWhereItKnowsLess(t *testing.T) {
	var s State
	if _, ok := s.Outlook(5); ok {
		t.Error("an outlook of nothing")
	}
	s.Apply(epoch, 12, true, Limits{})
	if _, ok := s.Outlook(5); ok {
		t.Error("an outlook of a space never seen cooling")
	}
	if o, ok := s.Outlook(13); !ok || o.Early != 0 {
		t.Error("already down is now")
	}
	for x := 0.0; x <= 3000; x += 60 {
		s.Apply(epoch.AddSeconds(60+x), 12-2*x/3600, false, Limits{})
	}
	o, ok := s.Outlook(s.TempC - 4)
	if !ok || math.Abs(o.Early-2) > 0.05 || !o.LateNever || !o.Cooling {
		t.Errorf("two degrees an hour, four to go: %+v %v", o, ok)
	}
	warm, _ := hall(8, 10, 0.1, 60, 44)
	if o, ok := warm.Outlook(2); ok {
		t.Errorf("a hall that stays above 9 °C: %+v", o)
	}
}

func TestOutlookKeepsItsOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, c := hall(rapid.Float64Range(1, 40).Draw(t, "tau"), rapid.Float64Range(-20, 10).Draw(t, "outside"),
			rapid.Float64Range(0, 0.5).Draw(t, "noise"), 120, rapid.Float64Range(13, 60).Draw(t, "hours"))
		limit := c - rapid.Float64Range(0.5, 20).Draw(t, "below")
		o, ok := s.Outlook(limit)
		if !ok {
			return
		}
		likely, late := o.Likely, o.Late
		if o.LikelyNever {
			likely = math.Inf(1)
		}
		if o.LateNever {
			late = math.Inf(1)
		}
		if !(o.Early >= 0 && o.Early <= likely && likely <= late) {
			t.Fatalf("%+v", o)
		}
		if lower, ok := s.Outlook(limit - 1); ok && lower.Early < o.Early {
			t.Fatalf("a lower limit comes sooner: %+v, %+v", o, lower)
		}
	})
}

func TestApplyAllocatesNothing(t *testing.T) {
	var s State
	at := epoch
	l := Limits{AboveC: ptr(5)}
	n := testing.AllocsPerRun(1000, func() {
		at = at.AddSeconds(30)
		s.Apply(at, 12, false, l)
	})
	if n != 0 {
		t.Errorf("%v allocations", n)
	}
	t.Logf("State %d bytes", unsafe.Sizeof(s))
}

func BenchmarkApply(b *testing.B) {
	var s State
	at := epoch
	for i := 0; b.Loop(); i++ {
		at = at.AddSeconds(30)
		s.Apply(at, 20-float64(i%3000)/300, false, Limits{})
	}
}

// A space that was once colder than its coolings tell can get so again.
func TestOutlookRemembersTheColdestSeen(t *testing.T) {
	s, c := hall(8, 5, 0.1, 60, 49)
	if o, ok := s.Outlook(-2); ok {
		t.Fatalf("never near it: %+v", o)
	}
	s.LowestC = -8
	o, ok := s.Outlook(-2)
	if !ok || !o.LikelyNever || !o.LateNever || o.Early <= 0 || o.Early > 40 {
		t.Errorf("at %v °C, was at -8: %+v %v", c, o, ok)
	}
}
