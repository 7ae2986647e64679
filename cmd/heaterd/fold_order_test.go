package main

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"io"
	"math"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"pgregory.net/rapid"

	"heaterd/alerts/fold"
	"heaterd/alerts/outcome"
	"heaterd/config"
	"heaterd/ingest/capture"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// tape is a stranger's capture as lines of the log, with what it comes
// to when nothing is lost, late or twice.
type tape struct {
	cfg   *config.Config
	lines []record.Line
	plain []byte
}

var tapes = sync.OnceValue(func() []tape {
	var out []tape
	for i, s := range []nodeStyle{
		{base: "%s/", ut: true, whole: true, refuel0: true, every: 60, zone: "Europe/Dublin", noise: 0.5, days: 2},
		{base: "", whole: true, extras: true, every: 120, zone: "UTC", noise: 1, days: 3, counter: 9000},
		{base: "%s/", whole: true, every: 45, zone: "UTC", noise: 0.5, days: 2, sooty: 0.04},
	} {
		out = append(out, newTape(uint64(100+i), s))
	}
	return out
})

func newTape(seed uint64, s nodeStyle) tape {
	w := newStranger(seed, s)
	w.offDays = true
	w.run()
	cfg, err := config.Parse("strange.yaml", []byte(w.yaml()), config.Options{})
	if err != nil {
		panic(err)
	}
	r := tape{cfg: cfg, lines: linesOf(cfg, w.text())}
	if seed%2 == 1 {
		writtenLate(r.lines)
	}
	end := r.lines[len(r.lines)-1].At.Add(15 * time.Minute)
	r.lines = append(r.lines, record.Line{At: end})
	r.plain = lasting(r, r.lines)
	return r
}

// writtenLate has people write down every entry hours after what they did.
func writtenLate(lines []record.Line) {
	for i, l := range lines {
		if l.Entry != nil && l.Entry.Node == "" {
			l.Entry.Done = l.At.Add(-time.Duration(1+i%9) * time.Hour)
		}
	}
}

func linesOf(cfg *config.Config, text string) []record.Line {
	var lines []record.Line
	in := capture.NewReader(strings.NewReader(text))
	for {
		l, err := in.Next()
		if errors.Is(err, io.EOF) {
			return lines
		}
		if err != nil {
			panic(err)
		}
		lines = append(lines, lineOf(cfg.Sources, l))
	}
}

// lasting gives the outcomes that order, repetition and packing must not
// change: burns, hours and exposure.
func lasting(r tape, lines []record.Line) []byte {
	engine := fold.New(r.cfg.Fleet, rulesOf(r.cfg))
	var burns []outcome.Burn
	for _, l := range lines {
		burns = append(burns, engine.Step(l).Burns...)
	}
	out := engine.Finish()
	burns = append(burns, out.Burns...)
	slices.SortFunc(burns, func(a, b outcome.Burn) int {
		return cmp.Or(cmp.Compare(a.Heater, b.Heater), cmp.Compare(a.End, b.End), cmp.Compare(a.Start, b.Start))
	})
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	for _, v := range burns {
		enc.Encode(v)
	}
	for _, v := range out.Hours {
		enc.Encode(v)
	}
	for _, v := range out.Exposures {
		enc.Encode(v)
	}
	return b.Bytes()
}

// differ shows the lines that are only in one of the two.
func differ(a, b []byte) string {
	in := map[string]int{}
	for l := range strings.SplitSeq(string(a), "\n") {
		in[l]++
	}
	for l := range strings.SplitSeq(string(b), "\n") {
		in[l]--
	}
	var out []string
	for l, n := range in {
		switch {
		case n > 0:
			out = append(out, "- "+l)
		case n < 0:
			out = append(out, "+ "+l)
		}
	}
	slices.SortFunc(out, func(a, b string) int { return cmp.Compare(a[2:], b[2:]) })
	return strings.Join(out[:min(len(out), 12)], "\n")
}

func (r tape) same(t rapid.TB, lines []record.Line) {
	t.Helper()
	slices.SortStableFunc(lines, func(a, b record.Line) int { return cmp.Compare(a.At, b.At) })
	if got := lasting(r, lines); !bytes.Equal(got, r.plain) {
		t.Fatalf("outcomes changed:\n%s", differ(r.plain, got))
	}
}

func anyTape(t *rapid.T) (tape, []record.Line) {
	r := tapes()[rapid.IntRange(0, len(tapes())-1).Draw(t, "record")]
	return r, slices.Clone(r.lines)
}

// late delays a line, but not the first and the last, which bound the record.
func (r tape) late(lines []record.Line, i int, by time.Duration) {
	if i == 0 || i == len(lines)-1 || lines[i].Pack == nil {
		return
	}
	lines[i].At = min(lines[i].At.Add(by), lines[len(lines)-1].At)
}

// None of these changes what readings come to: burns, hours and exposure. They
// run beside each other, for they take nothing but processors.
func TestOrderChangesNothing(t *testing.T) {
	for _, one := range []struct {
		name  string
		check func(*testing.T)
	}{
		{"shuffled", shuffled},
		{"repeated", repeated},
		{"packed otherwise", packedOtherwise},
		{"buffered", buffered},
		{"buffered for a week", bufferedForAWeek},
		{"restarted on the way", restartedOnTheWay},
	} {
		t.Run(one.name, func(t *testing.T) {
			t.Parallel()
			one.check(t)
		})
	}
}

func shuffled(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, lines := anyTape(t)
		r.shuffle(lines, rapid.Uint64().Draw(t, "seed"))
		r.same(t, lines)
	})
}

// shuffle delays each line by up to what the lateness window allows.
func (r tape) shuffle(lines []record.Line, seed uint64) {
	for i := range lines {
		r.late(lines, i, time.Duration(mix(seed, i)%590)*time.Second)
	}
}

// Packs that overtake each other may look like a clock that was set back and
// lags since: of a shuffle that did, nothing changes.
func TestAShuffleThatLooksLikeAClockSetBack(t *testing.T) {
	r := tapes()[1]
	lines := slices.Clone(r.lines)
	r.shuffle(lines, 0x79e8d67e5b704)
	r.same(t, lines)
}

func repeated(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, lines := anyTape(t)
		rng := rapid.Uint64().Draw(t, "seed")
		for i := range r.lines {
			if mix(rng, i)%4 == 0 && r.lines[i].Pack != nil {
				lines = slices.Insert(lines, len(lines)-1, r.lines[i])
				r.late(lines, len(lines)-2, time.Duration(mix(rng, -i)%7200)*time.Second)
			}
		}
		r.same(t, lines)
	})
}

func packedOtherwise(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, lines := anyTape(t)
		rng := rapid.Uint64().Draw(t, "seed")
		var out []record.Line
		open := map[reading.NodeID]int{} // place in out of the pack that others join
		for i, l := range lines {
			if l.Pack == nil || i == 0 {
				out = append(out, l)
				continue
			}
			if j, ok := open[l.Pack.Node]; ok && l.At.Sub(out[j].At) < 5*time.Minute && mix(rng, i)%3 != 0 {
				joined := *out[j].Pack
				joined.Samples = append(slices.Clone(joined.Samples), l.Pack.Samples...)
				slices.SortFunc(joined.Samples, func(a, b reading.Sample) int { return cmp.Compare(a.At, b.At) })
				out[j].Pack = &joined
				continue
			}
			open[l.Pack.Node] = len(out)
			out = append(out, l)
		}
		for i := range out { // a joined pack goes when its last sample is there
			if p := out[i].Pack; p != nil && i > 0 {
				out[i].At = max(out[i].At, p.Samples[len(p.Samples)-1].At)
			}
		}
		r.same(t, out)
	})
}

func buffered(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, lines := anyTape(t)
		end := lines[len(lines)-1].At
		rng := rapid.Uint64().Draw(t, "seed")
		again := map[reading.NodeID]reading.Instant{} // when a node that was away has sent all it kept
		for range rapid.IntRange(1, 3).Draw(t, "outages") {
			node := r.cfg.Fleet.Heaters[rapid.IntRange(0, 5).Draw(t, "heater")].Node
			from := lines[0].At.Add(time.Duration(rapid.IntRange(0, 40*60).Draw(t, "from")) * time.Minute)
			to := from.Add(time.Duration(rapid.IntRange(12, 24*60).Draw(t, "for")) * time.Minute)
			back := min(to.Add(time.Duration(rapid.SampledFrom([]int{0, 0, 60, 2000}).Draw(t, "later"))*time.Minute), end)
			slowly := rapid.SampledFrom([]time.Duration{0, time.Second, time.Minute}).Draw(t, "spread")
			if from < again[node] {
				continue // a buffer is sent whole: no single reading of it stays behind
			}
			if from <= firstOf(lines, node) {
				continue // of a node never heard nobody can know that it keeps something
			}
			if !leavesHole(lines, node, from, to, rulesOf(r.cfg).Lateness) {
				continue // what is missing for less is not waited for
			}
			again[node] = back.Add(5 * slowly)
			for i := range lines {
				if p := lines[i].Pack; i > 0 && p != nil && p.Node == node && lines[i].At >= from && lines[i].At < to {
					lines[i].At = min(back.Add(slowly*time.Duration(mix(rng, i)%500)/100), end)
				}
			}
		}
		r.same(t, lines)
	})
}

// leavesHole reports whether the readings of a node are further apart without
// what came of it between two instants: the record itself may hold a buffer
// that begins there, of which no part would stay behind alone.
func leavesHole(lines []record.Line, node reading.NodeID, from, to reading.Instant, than time.Duration) bool {
	before, after := reading.Instant(0), reading.Instant(math.MaxInt64)
	for _, l := range lines {
		if l.Pack == nil || l.Pack.Node != node {
			continue
		}
		for _, x := range l.Pack.Samples {
			switch {
			case l.At >= from && l.At < to:
			case x.At < from:
				before = max(before, x.At)
			default:
				after = min(after, x.At)
			}
		}
	}
	return after > before.Add(than)
}

// firstOf gives when a node is heard first.
func firstOf(lines []record.Line, node reading.NodeID) reading.Instant {
	i := slices.IndexFunc(lines, func(l record.Line) bool { return l.Pack != nil && l.Pack.Node == node })
	return lines[max(i, 0)].At
}

// What a node kept for nearly a week and then sent, at once or slowly, comes to
// the same as if it had never been away; so does what two of a site kept.
func bufferedForAWeek(t *testing.T) {
	if testing.Short() {
		t.Skip("-short: twelve days of readings several times over")
	}
	r := newTape(103, nodeStyle{base: "%s/", ut: true, whole: true, every: 120, zone: "America/Chicago", noise: 0.5, days: 12})
	first, end := r.lines[0].At, r.lines[len(r.lines)-1].At
	for seed := range uint64(6) {
		lines := slices.Clone(r.lines)
		for k := range 1 + int(seed%2) {
			node := r.cfg.Fleet.Heaters[mix(seed, k)%6].Node
			from := first.Add(time.Duration(mix(seed, 10+k)%(4*24*60)) * time.Minute)
			to := from.Add(time.Duration(3*24*60+mix(seed, 20+k)%(93*60)) * time.Minute) // up to 6.9 days
			for i := range lines {
				if p := lines[i].Pack; i > 0 && p != nil && p.Node == node && lines[i].At >= from && lines[i].At < to {
					lines[i].At = min(to.Add(time.Duration(mix(seed, i)%uint64(1+seed*120))*time.Second), end)
				}
			}
		}
		slices.SortStableFunc(lines, func(a, b record.Line) int { return cmp.Compare(a.At, b.At) })
		if got := lasting(r, lines); !bytes.Equal(got, r.plain) {
			t.Errorf("outcomes changed, seed %d:\n%s", seed, differ(r.plain, got))
		}
	}
}

func mix(seed uint64, i int) uint64 {
	x := seed ^ uint64(i)*0x9e3779b97f4a7c15
	x ^= x >> 29
	x *= 0xbf58476d1ce4e5b9
	return x ^ x>>32
}

// everything gives every outcome, alarms too, in order.
func everything(t testing.TB, r tape, split func(i int) bool) []byte {
	t.Helper()
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	out := func(v any) error { return enc.Encode(v) }
	engine := fold.New(r.cfg.Fleet, rulesOf(r.cfg))
	for i, l := range r.lines {
		if split(i) {
			engine = restarted(t, r, engine)
		}
		if err := tellAll(engine.Step(l), out); err != nil {
			t.Fatal(err)
		}
	}
	if err := finish(engine, out); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func restarted(t testing.TB, r tape, old *fold.Engine) *fold.Engine {
	t.Helper()
	body, err := old.Snapshot()
	if err != nil {
		t.Fatal(err)
	}
	engine := fold.New(r.cfg.Fleet, rulesOf(r.cfg))
	if err := engine.Restore(body); err != nil {
		t.Fatal(err)
	}
	return engine
}

func restartedOnTheWay(t *testing.T) {
	for _, r := range tapes() {
		whole := everything(t, r, func(int) bool { return false })
		if again := everything(t, r, func(int) bool { return false }); !bytes.Equal(whole, again) {
			t.Fatalf("a second replay differs:\n%s", differ(whole, again))
		}
		for _, every := range []int{61, 1009, 7919} {
			if got := everything(t, r, func(i int) bool { return i%every == every/2 }); !bytes.Equal(got, whole) {
				t.Errorf("restarted every %d lines:\n%s", every, differ(whole, got))
			}
		}
	}
}
