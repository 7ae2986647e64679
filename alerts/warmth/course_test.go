package warmth

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// go notes a temperature each minute that changes by so much an hour.
func (c *Course) drift(from *time.Duration, tempC *float64, minutes int, perHour float64, regime uint64) {
	for range minutes {
		*from += time.Minute
		*tempC += perHour / 60
		c.Note(epoch.Add(*from), *tempC, regime)
	}
}

func TestCourseOfAnEvenFall(t *testing.T) {
	var c Course
	var at time.Duration
	temp := 8.0
	c.drift(&at, &temp, 60, -1, 1)
	if _, falls := c.Falls(5); falls {
		t.Error("told by less than an hour after the air had settled")
	}
	c.drift(&at, &temp, 25, -1, 1)
	f, falls := c.Falls(5)
	if !falls || math.Abs(f.Rate-1) > 0.02 || f.Over != 55*time.Minute {
		t.Fatalf("%+v %v", f, falls)
	}
	if _, falls := c.Falls(0); falls {
		t.Error("told further ahead than it was seen to fall")
	}
	o := f.To(5, Envelope{}, false)
	straight := f.ToC - 5
	if math.Abs(o.Early-straight) > 0.1 || o.Likely < o.Early || o.Likely > 1.5*straight || o.LateNever {
		t.Errorf("%.2f h by a straight line, got %+v", straight, o)
	}
	if o = f.To(5, Envelope{TauHours: 1, TauLow: 0.8}, true); !o.LikelyNever || !o.LateNever || o.Early == 0 {
		t.Errorf("a tent that is warm enough in the end: %+v", o)
	}
}

func TestCourseBeginsAnew(t *testing.T) {
	for name, change := range map[string]func(c *Course, at *time.Duration, temp *float64){
		"a flame":    func(c *Course, at *time.Duration, temp *float64) { c.drift(at, temp, 20, -1, 2) },
		"no reading": func(c *Course, at *time.Duration, temp *float64) { *at += time.Hour; c.drift(at, temp, 20, -1, 1) },
	} {
		var c Course
		var at time.Duration
		temp := 9.0
		c.drift(&at, &temp, 120, -1, 1)
		change(&c, &at, &temp)
		if _, falls := c.Falls(5); falls || c.Turned(5, 6) {
			t.Errorf("%s: still told of what was before", name)
		}
	}
}

func TestCourseTurns(t *testing.T) {
	var c Course
	var at time.Duration
	temp := 9.0
	c.drift(&at, &temp, 120, -1, 1)
	if c.Turned(5, 6) {
		t.Error("turned while it fell")
	}
	c.drift(&at, &temp, 30, 1, 1)
	if _, falls := c.Falls(5); falls {
		t.Error("falls while it rises")
	}
	c.drift(&at, &temp, 60, 1, 1)
	if !c.Turned(5, 6) {
		t.Error("not seen to have turned")
	}
}

// Whatever is noted, what is told has its ends in order.
func TestCourseNeverTellsNonsense(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var c Course
		var at time.Duration
		temp := 12.0
		for range rapid.IntRange(1, 6).Draw(t, "stretches") {
			c.drift(&at, &temp, rapid.IntRange(1, 90).Draw(t, "minutes"), rapid.Float64Range(-3, 2).Draw(t, "°C/h"), rapid.Uint64Range(1, 2).Draw(t, "regime"))
		}
		f, falls := c.Falls(5)
		if !falls {
			return
		}
		o := f.To(5, Envelope{}, false)
		if !(f.Low <= f.Rate && f.Rate <= f.Top) || f.FromC <= f.ToC || o.Early < 0 || !o.LikelyNever && o.Likely < o.Early-1e-9 || !o.LateNever && o.Late < o.Likely-1e-9 {
			t.Fatalf("%+v %+v", f, o)
		}
	})
}

func TestNoteAllocatesNothing(t *testing.T) {
	var c Course
	var at time.Duration
	temp := 20.0
	if n := testing.AllocsPerRun(1000, func() { c.drift(&at, &temp, 1, -1, 1); c.Falls(5) }); n != 0 {
		t.Errorf("%v allocations", n)
	}
}
