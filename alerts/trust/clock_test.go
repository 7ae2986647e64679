package trust

import (
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"heaterd/ingest/reading"
	"pgregory.net/rapid"
)

var epoch = reading.InstantOf(time.Date(2026, 1, 12, 6, 0, 0, 0, time.UTC))

// pack is one message: its newest stamp by the true clock and its arrival.
type pack struct{ newest, arrived reading.Instant }

// live gives packs every step from start, each delayed evenly by up to delay.
func live(t *rapid.T, start reading.Instant, n int, step, delay time.Duration) []pack {
	rng := rand.New(rand.NewPCG(1, 2))
	if t != nil {
		rng = rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 2))
	}
	var p []pack
	for i := range n {
		at := start.Add(time.Duration(i) * step)
		p = append(p, pack{at, at.Add(time.Duration(rng.Float64() * float64(delay)))})
	}
	return arrive(p)
}

func arrive(p []pack) []pack {
	slices.SortStableFunc(p, func(a, b pack) int { return int(a.arrived - b.arrived) })
	return p
}

// play runs packs whose clock is skewed and gives the last offset.
func play(c *Clock, p []pack, skew time.Duration) time.Duration {
	var o time.Duration
	for _, x := range p {
		o = c.Retime(x.newest.Add(skew), x.arrived, 0)
	}
	return o
}

func draw(t *rapid.T, name string, lo, hi time.Duration) time.Duration {
	return time.Duration(rapid.Int64Range(int64(lo/time.Second), int64(hi/time.Second)).Draw(t, name)) * time.Second
}

func TestClockLeavesARightOneAlone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		step := draw(t, "step", 30*time.Second, 10*time.Minute)
		skew := draw(t, "skew", -90*time.Second, 110*time.Second)
		delay := draw(t, "delay", 0, lateness)
		if skew < 0 {
			delay = min(delay, 20*time.Second)
		}
		var c Clock
		for _, p := range live(t, epoch, 60, step, delay) {
			if o := c.Retime(p.newest.Add(skew), p.arrived, 0); o != 0 {
				t.Fatalf("offset %v", o)
			}
		}
	})
}

func TestClockFindsOneALittleAheadOnceItLasts(t *testing.T) {
	var c Clock
	for i, p := range steady(60, time.Minute) {
		o := c.Retime(p.newest.Add(5*time.Minute), p.arrived, 0)
		switch {
		case i < 9 && o != 0:
			t.Fatalf("believed wrong after %d packs", i+1)
		case i > 12 && o != -5*time.Minute:
			t.Fatalf("offset %v after %d packs, want -5m", o, i+1)
		}
	}
}

func steady(n int, step time.Duration) []pack {
	var out []pack
	for i := range n {
		at := epoch.Add(time.Duration(i) * step)
		out = append(out, pack{newest: at, arrived: at})
	}
	return out
}

// A recording whose messages were put into another order, with the arrivals
// left as they were, has stamps after their arrival now and then.
func TestClockLeavesAnotherOrderAlone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := steady(200, 30*time.Second)
		for from := 0; from < len(p); from += 16 { // within eight minutes
			part := p[from:min(from+16, len(p))]
			order := rapid.Permutation(part).Draw(t, "order")
			stamps := make([]reading.Instant, len(part))
			for i := range order {
				stamps[i] = order[i].newest
			}
			for i := range part {
				part[i].newest = stamps[i]
			}
		}
		var c Clock
		for _, x := range p {
			if o := c.Retime(x.newest, x.arrived, 0); o != 0 {
				t.Fatalf("offset %v", o)
			}
		}
	})
}

func TestClockFindsOneAhead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		skew := draw(t, "skew", 2*lateness+time.Minute, 400*24*time.Hour)
		delay := draw(t, "delay", 0, lateness)
		p := live(t, epoch, 80, time.Minute, delay)
		least := lateness
		var c Clock
		for _, x := range p {
			least = min(least, x.arrived.Sub(x.newest))
			o := c.Retime(x.newest.Add(skew), x.arrived, 0)
			if x.newest.Add(skew+o) > x.arrived.Add(AheadLimit) {
				t.Fatalf("a stamp stays %v ahead", x.newest.Add(skew+o).Sub(x.arrived))
			}
			if least < skew-AheadLimit && o != least-skew {
				t.Fatalf("offset %v, want %v", o, least-skew)
			}
		}
		before, _ := c.Skewed()
		if o := play(&c, p[len(p)-5:], skew); o != before {
			t.Fatalf("packs sent again moved the offset from %v to %v", before, o)
		}
	})
}

func TestClockFindsOneConstantlyBehind(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		skew := draw(t, "skew", 4*time.Minute, 30*24*time.Hour)
		step := draw(t, "step", 10*time.Second, 2*time.Minute)
		p := live(t, epoch, 150, step, 20*time.Second)
		var c Clock
		o := play(&c, p, -skew)
		if o < skew || o > skew+20*time.Second {
			t.Fatalf("offset %v, want %v", o, skew)
		}
	})
}

func TestClockFollowsASetClock(t *testing.T) {
	for _, c := range []struct{ from, to time.Duration }{
		{0, 30 * time.Minute},
		{30 * time.Minute, 0},
		{0, -time.Hour},
		{-time.Hour, 0},
		{-time.Hour, 2 * time.Hour},
		{2 * time.Hour, -time.Hour},
		{5 * time.Minute, 0},
		{30 * time.Minute, 40 * time.Minute},
		{0, -20 * 365 * 24 * time.Hour},
	} {
		var k Clock
		var p []pack
		for i := range 400 {
			at := epoch.Add(time.Duration(i) * 30 * time.Second)
			p = append(p, pack{at, at.Add(time.Second)})
		}
		play(&k, p[:100], c.from)
		got := play(&k, p[100:], c.to)
		if off := got + c.to; off < -2*time.Second || off > 2*time.Second {
			t.Errorf("from %v to %v: offset %v", c.from, c.to, got)
		}
	}
}

// A node that was cut off sends what it kept: at once, bit by bit, or as
// fast as it grows, old first or the live pack first. None is a wrong clock.
func TestClockTakesNoBacklogForSkew(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var c Clock
		play(&c, live(t, epoch, 30, time.Minute, 5*time.Second), 0)
		out := draw(t, "outage", time.Minute, 7*24*time.Hour)
		pause := draw(t, "pause", 0, time.Minute) // between the packs of the backlog
		begin := epoch.Add(30 * time.Minute)
		end := begin.Add(out)
		if rapid.Bool().Draw(t, "liveFirst") {
			if o := c.Retime(end, end, 0); o != 0 {
				t.Fatalf("the live pack moved the clock by %v", o)
			}
			pause = min(pause, 40*time.Second)
		}
		size := max(time.Minute, out/200) // what one kept pack holds
		arrived := end
		for newest := begin.Add(size); newest < arrived && newest < end.Add(2*time.Hour); newest = newest.Add(size) {
			arrived = arrived.Add(pause + time.Millisecond)
			if o := c.Retime(newest, arrived, 0); o != 0 {
				t.Fatalf("backlog taken for skew: offset %v, %v behind", o, arrived.Sub(newest))
			}
		}
	})
}

func TestClockTakesNoBufferedPackForSkew(t *testing.T) {
	var c Clock
	for i := range 500 {
		at := epoch.Add(time.Duration(i) * time.Minute)
		if i%7 == 0 { // an old pack, sent again
			c.Retime(at.Add(-time.Duration(i)*20*time.Minute), at, 0)
		}
		if o := c.Retime(at, at, 0); o != 0 {
			t.Fatalf("pack %d: offset %v", i, o)
		}
	}
}

func TestClockOfABacklogAheadKeepsItsOffset(t *testing.T) {
	const skew = 30 * time.Minute
	var c Clock
	want := play(&c, live(nil, epoch, 40, time.Minute, 0), skew)
	end := epoch.Add(4 * time.Hour)
	for i := range 200 {
		newest := epoch.Add(time.Duration(40+i) * time.Minute)
		if o := c.Retime(newest.Add(skew), end.Add(time.Duration(i)*time.Second), 0); o != want {
			t.Fatalf("pack %d: offset %v, want %v", i, o, want)
		}
	}
}

func BenchmarkRetime(b *testing.B) {
	var c Clock
	at := epoch
	for b.Loop() {
		at = at.Add(30 * time.Second)
		c.Retime(at, at.Add(time.Second), 0)
	}
}

// A node that sends what it kept exactly as fast as it grows has a constant
// lag for ever, and a right clock.
func TestClockTakesNoDripForSkew(t *testing.T) {
	for _, out := range []time.Duration{15 * time.Minute, 3 * time.Hour, 5 * 24 * time.Hour} {
		var c Clock
		for i := range 30 {
			at := epoch.Add(time.Duration(i) * time.Minute)
			c.Retime(at, at, 0)
		}
		for i := 30; i < 400; i++ {
			newest := epoch.Add(time.Duration(i) * time.Minute)
			if o := c.Retime(newest, newest.Add(out), 0); o != 0 {
				t.Fatalf("after %v out, pack %d: offset %v", out, i, o)
			}
		}
	}
}

// Delays of up to lateness make a clock that is a little ahead look right now
// and then; the offset found with the least delayed pack stays.
func TestClockALittleAheadKeepsItsOffset(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		skew := draw(t, "skew", 3*time.Minute, 12*time.Minute)
		p := live(t, epoch, 120, 2*time.Minute, lateness)
		var c Clock
		last := time.Duration(0)
		for _, x := range p {
			o := c.Retime(x.newest.Add(skew), x.arrived, 0)
			if o > last {
				t.Fatalf("the offset went from %v back to %v", last, o)
			}
			last = o
		}
	})
}

// A node first heard while it sends a backlog faster than it grows is not
// behind; its lag shrinks.
func TestClockTakesNoSlowDrainForSkew(t *testing.T) {
	for _, speed := range []float64{1.5, 2, 5, 60} {
		var c Clock
		newest, arrived := epoch, epoch.Add(5*time.Hour)
		for newest < arrived {
			if o := c.Retime(newest, arrived, 0); o != 0 {
				t.Fatalf("at %v times: offset %v with %v to go", speed, o, arrived.Sub(newest))
			}
			newest = newest.Add(time.Minute)
			arrived = arrived.Add(time.Duration(float64(time.Minute) / speed))
		}
	}
}

// A clock that loses time is found before its lag is one that delivery may have,
// and followed: by a second in five minutes or in a minute, with delays of up to
// 20 s on the way. That it is set right ends that.
func TestClockFollowsOneThatLosesTime(t *testing.T) {
	for _, every := range []time.Duration{time.Minute, 5 * time.Minute} {
		var c Clock
		at, lost, delays := epoch, time.Duration(0), []time.Duration{0, 20 * time.Second, 3 * time.Second, 11 * time.Second}
		for i := 0; lost < time.Hour; i++ {
			at = at.Add(30 * time.Second)
			lost = time.Duration(at.Sub(epoch)/every) * time.Second
			o := c.Retime(at.Add(-lost), at.Add(delays[i%len(delays)]), 0)
			if left := lost - o; left > 4*time.Minute || left < -time.Minute {
				t.Fatalf("a second in %v: %v lost, offset %v", every, lost, o)
			}
		}
		for range 10 {
			at = at.Add(30 * time.Second)
			c.Retime(at, at, 0)
		}
		if _, skewed := c.Skewed(); skewed {
			t.Errorf("a second in %v: set right, and still believed wrong", every)
		}
	}
}

// Outage upon outage, of each of which the node never makes up.
func TestClockTakesNoOutagesForSkew(t *testing.T) {
	var c Clock
	late := time.Duration(0)
	for i := range 2000 {
		if i%200 == 199 {
			late += 20 * time.Minute
		}
		newest := epoch.Add(time.Duration(i) * time.Minute)
		if o := c.Retime(newest, newest.Add(late), 0); o != 0 {
			t.Fatalf("pack %d, %v late: offset %v", i, late, o)
		}
	}
}
