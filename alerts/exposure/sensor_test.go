package exposure

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"heaterd/alerts/trust"
	"heaterd/ingest/reading"
)

// point is one reading of a drawn series.
type point struct {
	at  reading.Instant
	ppm float64
}

// series draws readings about every step with jitter, jumps and gaps.
func series(t *rapid.T, hours float64, gaps bool) (p []point, step time.Duration) {
	step = time.Duration(rapid.SampledFrom([]int{10, 30, 60, 120}).Draw(t, "step")) * time.Second
	at := epoch.AddSeconds(rapid.Float64Range(0, 300).Draw(t, "phase"))
	level := rapid.Float64Range(0, 100).Draw(t, "level")
	seed := rapid.Uint64().Draw(t, "seed")
	for end := at.AddSeconds(hours * 3600); at < end; {
		seed = seed*6364136223846793005 + 1442695040888963407
		u := float64(seed>>11) / (1 << 53)
		switch {
		case u < 0.02:
			level = u * 50 * 300
		case u < 0.5:
			level = max(level+20*(u-0.27), -3)
		}
		p = append(p, point{at, level})
		wait := step.Seconds() * (0.9 + 0.2*u)
		if gaps && u > 0.995 {
			wait = 36000 * (u - 0.995) / 0.005
		}
		at = at.AddSeconds(wait)
	}
	return p, step
}

func apply(s *Sensor, p []point, step time.Duration) {
	for _, x := range p {
		s.Apply(x.at, x.ppm, step)
	}
}

// exact is the same record by brute force: the integral of the straight
// lines, the worse end across gaps, at every second.
type exact struct {
	from reading.Instant
	sum  []float64 // ppm·s from the start to each second
}

func exactly(p []point, step time.Duration) exact {
	e := exact{from: p[0].at, sum: []float64{0}}
	i := 0
	last := p[len(p)-1].at
	for n := 0; e.from.AddSeconds(float64(n)) < last; n++ {
		at := e.from.AddSeconds(float64(n) + 0.5)
		for i+1 < len(p) && p[i+1].at < at {
			i++
		}
		e.sum = append(e.sum, e.sum[n]+between(p[i], p[min(i+1, len(p)-1)], at, step))
	}
	return e
}

func between(a, b point, at reading.Instant, step time.Duration) float64 {
	x, y := max(a.ppm, 0), max(b.ppm, 0)
	switch span := b.at.Seconds(a.at); {
	case span <= 0:
		return x
	case span <= GapFactor*step.Seconds():
		return x + (y-x)*min(at.Seconds(a.at)/span, 1)
	case at.Seconds(a.at) > GapHeldSeconds:
		return 0
	case span > GapHeldSeconds:
		return x
	default:
		return max(x, y)
	}
}

func (e exact) highest(window int) (high float64) {
	for n := range e.sum {
		high = max(high, e.sum[n]-e.sum[max(n-window, 0)])
	}
	return high / float64(window)
}

func (e exact) now(window int) float64 {
	n := len(e.sum) - 1
	return (e.sum[n] - e.sum[max(n-window, 0)]) / float64(window)
}

func TestAveragesAgainstBruteForce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, step := series(t, 20, rapid.Bool().Draw(t, "gaps"))
		s := NewSensor(Light)
		apply(&s, p, step)
		f, e := s.At(s.Last), exactly(p, step)
		for _, c := range []struct {
			name      string
			want, got float64
		}{
			{"highest 15 min", e.highest(ShortSeconds), f.HighTWA15PPM},
			{"15 min now", e.now(ShortSeconds), f.TWA15PPM},
			{"highest 8 h", e.highest(ShiftSeconds), f.HighTWA8hPPM},
			{"8 h now", e.now(ShiftSeconds), f.TWA8hPPM},
		} {
			if math.Abs(c.got-c.want) > 0.005*f.Peak+0.02 { // the oldest bin may hold a jump
				t.Fatalf("%s: got %v, want %v, peak %v", c.name, c.got, c.want, f.Peak)
			}
		}
	})
}

// The dose against a fine-step solution of the equation by Euler.
func TestDoseAgainstFineSteps(t *testing.T) {
	for _, a := range []Activity{Rest, Light, Heavy} {
		u := UptakeFor(a)
		course := func(sec float64) float64 { return 150 + 140*math.Sin(sec/1500) }
		s := NewSensor(a)
		feed(&s, 6*3600, 30, course)
		co := StartPercent / 100 * u.OHbMax
		const dt = 0.1 // s
		for x := 0.0; x < 6*3600; x += dt {
			o2 := u.OHbMax - co
			pico := course(x+dt/2) * 1e-6 * (u.PB - 47)
			co += dt / 60 * (u.VCO/u.Vb - (co*u.PcO2/(o2*u.M)-pico)/(u.Vb*u.B()))
		}
		want, got := 100*co/u.OHbMax, s.At(s.Last).COHbPercent
		if math.Abs(got-want) > 0.001*want {
			t.Errorf("%s: got %v, want %v", a, got, want)
		}
	}
}

func TestFiguresKeepTheirOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, step := series(t, 10, true)
		s := NewSensor(Heavy)
		end := p[len(p)-1].at
		apply(&s, p, step)
		f := s.At(end.AddSeconds(rapid.Float64Range(0, 40000).Draw(t, "later")))
		tol := 0.005 * f.Peak
		if f.HighTWA15PPM > f.Peak+1e-3 || f.HighTWA8hPPM > f.HighTWA15PPM+tol ||
			f.TWA15PPM > f.HighTWA15PPM || f.TWA8hPPM > f.HighTWA8hPPM || f.COHbPercent > f.HighCOHbPercent {
			t.Fatalf("%+v", f)
		}
		for _, c := range []float64{f.Coverage, f.Coverage15, f.Coverage8h} {
			if !(c >= 0 && c <= 1) {
				t.Fatalf("coverage %v", c)
			}
		}
	})
}

func TestMoreCOLowersNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, step := series(t, 4, true)
		more := append([]point(nil), p...)
		scale := rapid.SampledFrom([]float64{1, 30, 3000}).Draw(t, "scale")
		for i := range more {
			more[i].ppm = more[i].ppm*scale + rapid.Float64Range(0, 50).Draw(t, "more")
		}
		a := rapid.SampledFrom([]Activity{Rest, Light, Heavy}).Draw(t, "activity")
		s, m := NewSensor(a), NewSensor(a)
		for i := range p {
			s.Apply(p[i].at, max(p[i].ppm, 0), step)
			m.Apply(more[i].at, max(more[i].ppm, p[i].ppm, 0), step)
			lower(t, s.At(s.Last), m.At(m.Last))
		}
		later := s.Last.AddSeconds(rapid.Float64Range(0, 40000).Draw(t, "later"))
		lower(t, s.At(later), m.At(later))
	})
}

func lower(t *rapid.T, s, m Figures) {
	const tol = 1e-5 // of single precision in the bins
	for _, c := range []struct{ less, more float64 }{
		{s.Peak, m.Peak}, {s.TWA15PPM, m.TWA15PPM}, {s.TWA8hPPM, m.TWA8hPPM}, {s.COHbPercent, m.COHbPercent},
		{s.HighTWA15PPM, m.HighTWA15PPM}, {s.HighTWA8hPPM, m.HighTWA8hPPM}, {s.HighCOHbPercent, m.HighCOHbPercent},
	} {
		if c.more < c.less*(1-tol)-1e-6 {
			t.Fatalf("more CO lowered a figure: %+v, %+v", s, m)
		}
	}
}

func TestAveragesScale(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, step := series(t, 10, true)
		k := rapid.Float64Range(0.1, 10).Draw(t, "k")
		s, m := NewSensor(Rest), NewSensor(Rest)
		apply(&s, p, step)
		for i := range p {
			if p[i].ppm > 0 { // a negative one may not become too low to count
				p[i].ppm *= k
			}
		}
		apply(&m, p, step)
		a, b := s.At(s.Last), m.At(m.Last)
		for _, c := range [][2]float64{{a.HighTWA15PPM, b.HighTWA15PPM}, {a.HighTWA8hPPM, b.HighTWA8hPPM}, {a.Peak, b.Peak}} {
			if math.Abs(c[0]*k-c[1]) > 1e-5*c[1]+1e-6 {
				t.Fatalf("%v times %v is not %v", c[0], k, c[1])
			}
		}
	})
}

// A sensor that reads lower than any air explains says as much as one that is
// not there: nothing looks safer, and the time is not measured.
func TestTooLowIsMissing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, step := series(t, 10, true)
		from := rapid.IntRange(0, len(p)-1).Draw(t, "from")
		to := rapid.IntRange(from, len(p)-1).Draw(t, "to")
		low, missing := NewSensor(Heavy), NewSensor(Heavy)
		for i, x := range p {
			if i >= from && i < to {
				x.ppm = trust.DriftPPM - 0.1 - float64(i)
			} else {
				missing.Apply(x.at, x.ppm, step)
			}
			low.Apply(x.at, x.ppm, step)
		}
		if low != missing {
			t.Fatalf("%+v\nis not\n%+v", low.At(low.Last), missing.At(missing.Last))
		}
	})
}

// What a stuck sensor reads counts in every figure; it measures nothing.
func TestDoubtedCoversNothing(t *testing.T) {
	s, sure := NewSensor(Rest), NewSensor(Rest)
	s.Doubted = true
	for i := range 60 {
		at := epoch.AddSeconds(float64(i) * 60)
		s.Apply(at, 40, time.Minute)
		sure.Apply(at, 40, time.Minute)
	}
	got, want := s.At(s.Last), sure.At(sure.Last)
	if got.TWA8hPPM != want.TWA8hPPM || got.COHbPercent != want.COHbPercent || want.Coverage15 < 0.99 {
		t.Errorf("%+v\nis not %+v", got, want)
	}
	if got.Coverage != 0 || got.Coverage15 != 0 || got.Coverage8h != 0 {
		t.Errorf("covered: %+v", got)
	}
}

// A record stored and taken up again half way, or told twice, is the same.
func TestStoringAndRepeatingChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, step := series(t, 6, true)
		cut := rapid.IntRange(0, len(p)).Draw(t, "cut")
		whole, part := NewSensor(Light), NewSensor(Light)
		apply(&whole, p, step)
		apply(&part, p[:cut], step)
		var b bytes.Buffer
		if err := binary.Write(&b, binary.LittleEndian, &part); err != nil {
			t.Fatal(err)
		}
		var again Sensor
		if err := binary.Read(&b, binary.LittleEndian, &again); err != nil {
			t.Fatal(err)
		}
		text, err := json.Marshal(again)
		if err != nil {
			t.Fatal(err)
		}
		again = Sensor{}
		if err := json.Unmarshal(text, &again); err != nil {
			t.Fatal(err)
		}
		if again != part {
			t.Fatal("storing changed the record")
		}
		again.At(p[max(cut-1, 0)].at.Add(time.Hour)) // asking changes nothing
		apply(&again, p[max(cut-3, 0):], step)
		if again != whole {
			t.Fatal("the record is not the same")
		}
	})
}

func TestAbsenceNeverClears(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, step := series(t, 10, false)
		s := NewSensor(Heavy)
		apply(&s, p, step)
		f := s.At(s.Last.AddSeconds(GapFactor * s.Within))
		for range 30 {
			next := s.At(f.At.AddSeconds(rapid.Float64Range(1, 3600).Draw(t, "wait")))
			if !next.Silent || next.TWA8hPPM < f.TWA8hPPM-0.005*f.Peak || next.TWA15PPM < f.TWA15PPM-0.005*f.Peak {
				t.Fatalf("silence lowered %+v to %+v", f, next)
			}
			if next.Coverage > f.Coverage+1e-9 {
				t.Fatalf("silence raised the coverage from %v to %v", f.Coverage, next.Coverage)
			}
			f = next
		}
	})
}

func TestGapCountsAtItsWorseEnd(t *testing.T) {
	for _, c := range []struct {
		name          string
		before, after float64
		gap           float64 // s
		want8h        float64
		coverage      float64
	}{
		{"two hours, higher after", 10, 40, 7200, (10*3600 + 40*7200 + 40*3600) / 28800.0, (7200 + 30) / 14400.0},
		{"two hours, higher before", 40, 10, 7200, (40*3600 + 40*7200 + 10*3600) / 28800.0, (7200 + 30) / 14400.0},
		{"one lost reading", 10, 40, 60, (10*3600 + 40*60 + 40*3600) / 28800.0, (7200 + 30) / 7260.0},
		{"longer than the window", 40, 0, 10 * 3600, 40 * 6 / 8.0 * 8 / 6, (7200 + 30) / 43200.0},
	} {
		s := NewSensor(Rest)
		feed(&s, 3600, 30, steady(c.before))
		for x := 0.0; x <= 3600; x += 30 {
			s.Apply(epoch.AddSeconds(3600+c.gap+x), c.after, 30*time.Second)
		}
		f := s.At(s.Last)
		if math.Abs(f.HighTWA8hPPM-c.want8h) > 0.005*c.want8h || math.Abs(f.Coverage-c.coverage) > 0.001 {
			t.Errorf("%s: 8 h %v, want %v; coverage %v, want %v", c.name, f.HighTWA8hPPM, c.want8h, f.Coverage, c.coverage)
		}
	}
}

func TestNegativesCountAsZeroButShow(t *testing.T) {
	s := NewSensor(Rest)
	feed(&s, 3600, 30, steady(-2))
	f := s.At(s.Last)
	if f.PPM != -2 || f.Lowest != -2 || f.Peak != 0 || f.TWA15PPM != 0 || f.TWA8hPPM != 0 {
		t.Errorf("%+v", f)
	}
}

func TestApplyPassesOverWhatCannotBe(t *testing.T) {
	s := NewSensor(Rest)
	feed(&s, 600, 30, steady(20))
	want := s
	s.Apply(s.Last, 900, 0)
	s.Apply(s.Last.AddSeconds(-60), 900, 0)
	s.Apply(s.Last.AddSeconds(60), math.NaN(), 0)
	s.Apply(s.Last.AddSeconds(60), math.Inf(1), 0)
	s.Apply(-5, 900, 0)
	if s != want {
		t.Error("it was counted")
	}
	if !new(Sensor).Empty() || s.Empty() {
		t.Error("empty is not told from not empty")
	}
}

func TestYearsApartIsNotSlow(t *testing.T) {
	s := NewSensor(Rest)
	at := epoch
	begin := time.Now()
	for range 100 {
		at = at.AddSeconds(3e7)
		s.Apply(at, 50, time.Minute)
	}
	if took := time.Since(begin); took > time.Second {
		t.Errorf("took %v", took)
	}
	if f := s.At(at); math.Abs(f.HighTWA8hPPM-50) > 0.3 {
		t.Errorf("%+v", f)
	}
}
