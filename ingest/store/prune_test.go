package store_test

import (
	"context"
	"slices"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/store"
)

// season appends ten hours of two nodes, one sample a minute each, and gives
// what must be there.
func season(t *testing.T, s *store.Store) model {
	want := model{}
	var lines []record.Line
	for i := range 600 {
		at := noon.Add(time.Duration(i) * time.Minute)
		lines = append(lines, pack("n-1", at, float32(i)), pack("n-2", at, float32(i)/2))
	}
	mustAppend(t, s, lines...)
	for _, l := range lines {
		want.add(l.Pack)
	}
	return want
}

// Wherever a compaction stops, every sample is there exactly once, then and
// after the next one.
func TestCompactionMayStopAnywhere(t *testing.T) {
	for stop := 0; ; stop += 1 + stop/4 {
		s := fresh(t)
		want := season(t, s)
		ctx := &countdown{Context: t.Context()}
		ctx.left.Store(int64(stop))
		_, err := s.Compact(ctx, 1<<40, forever, 10_000)
		for _, id := range []reading.NodeID{"n-1", "n-2"} {
			check := func(when string) {
				if diff := cmp.Diff(want.samples(id, 0, forever), samples(t, s, id, 0, forever/2)); diff != "" {
					t.Fatalf("%s, stopped after %d: (-want +got)\n%s", when, stop, diff)
				}
			}
			check("stopped")
			for passed := 1; passed > 0; {
				passed, _ = s.Compact(t.Context(), 1<<40, forever, 500)
			}
			check("done")
		}
		if lines, _ := s.Lines(t.Context(), 0, 10); len(lines) != 0 {
			t.Fatalf("%d lines left", len(lines))
		}
		_ = s.Close()
		if err == nil {
			t.Logf("%d places to stop", stop)
			return
		}
	}
}

// countdown is a context that ends after it was asked so often whether it has.
type countdown struct {
	context.Context
	left atomic.Int64
}

func (c *countdown) Err() error {
	if c.left.Add(-1) < 0 {
		return context.Canceled
	}
	return nil
}

func (c *countdown) Done() <-chan struct{} {
	if c.Err() != nil {
		closed := make(chan struct{})
		close(closed)
		return closed
	}
	return nil
}

func TestThinningKeepsTheFiguresOfTheHours(t *testing.T) {
	s := fresh(t)
	want := season(t, s)
	if _, err := s.Compact(t.Context(), 1<<40, forever, 10_000); err != nil {
		t.Fatal(err)
	}
	chart := func() []store.Step {
		steps, err := s.Rollup(t.Context(), "n-1", noon, noon.Add(10*time.Hour), time.Hour)
		if err != nil {
			t.Fatal(err)
		}
		return steps
	}
	before := chart()
	cut := noon.Add(4*time.Hour + 30*time.Minute)
	thinAll(t, s, cut, 8)
	kept := noon.Add(4 * time.Hour)
	if diff := cmp.Diff(want.samples("n-1", kept, forever), samples(t, s, "n-1", kept, forever/2)); diff != "" {
		t.Errorf("samples (-want +got)\n%s", diff)
	}
	if few := samples(t, s, "n-1", 0, kept); len(few) != 4*7 {
		t.Errorf("%d samples of four hours left", len(few))
	}
	// A straggler for a closed hour must not put its own figures in place of the hour's.
	mustAppend(t, s, pack("n-1", noon.Add(time.Hour), 999))
	if _, err := s.Compact(t.Context(), 1<<40, forever, 10_000); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(before, chart()); diff != "" {
		t.Errorf("figures (-before +after)\n%s", diff)
	}
}

// thinAll thins until nothing is left to thin; so many blocks it must be.
func thinAll(t *testing.T, s *store.Store, before reading.Instant, blocks int) {
	t.Helper()
	for n, all := 1, 0; n > 0; all += n {
		var err error
		if n, err = s.Thin(t.Context(), before); err != nil || n == 0 && all != blocks {
			t.Fatalf("%d hours of nodes, %v", all, err)
		}
	}
}

// Of a burn from the 17th to the 47th minute of an hour and a restart of the
// counter in the 52nd, the edges are left, and little else.
func TestThinningKeepsWhatHappens(t *testing.T) {
	s := fresh(t)
	var lines []record.Line
	for i := range 60 {
		x := reading.Sample{At: noon.Add(time.Duration(i) * time.Minute), Has: reading.Flame | reading.Runtime | reading.CO, CO: 5,
			Runtime: 7000 + 60*float64(min(max(i-16, 0), 31))}
		if i >= 17 && i < 47 {
			x.On = reading.Flame
		}
		if i >= 52 {
			x.Runtime = 0
		}
		lines = append(lines, record.Line{At: x.At, Pack: &reading.Pack{Node: "n-1", Samples: []reading.Sample{x}}})
	}
	mustAppend(t, s, lines...)
	if _, err := s.Compact(t.Context(), 1<<40, forever, 10_000); err != nil {
		t.Fatal(err)
	}
	thinAll(t, s, noon.Add(time.Hour), 1)
	var left []int
	for _, x := range samples(t, s, "n-1", 0, forever/2) {
		left = append(left, int(x.At.Sub(noon)/time.Minute))
		if x.Has != reading.Flame|reading.Runtime {
			t.Errorf("left %v", x)
		}
	}
	if want := []int{0, 10, 16, 17, 27, 37, 46, 47, 51, 52, 59}; !slices.Equal(left, want) {
		t.Errorf("left the minutes %v, want %v", left, want)
	}
}

func TestPruneQuarantine(t *testing.T) {
	s := fresh(t)
	for i := range 10 {
		why := record.Refused{Reason: reading.BadSyntax}
		quarantine(t, s, store.Quarantined{At: noon.Add(time.Duration(i) * time.Hour), Refused: why, Payload: []byte{byte(i)}})
	}
	if n, err := s.PruneQuarantine(t.Context(), noon.Add(4*time.Hour)); n != 4 || err != nil {
		t.Errorf("%d, %v", n, err)
	}
	if left, _ := s.ListQuarantine(t.Context(), "", 99, 64<<10); len(left) != 6 || left[5].Payload[0] != 4 {
		t.Errorf("%d left", len(left))
	}
	for _, keep := range []int{2, 0} { // a configuration that asks for fewer
		s.KeepQuarantined(keep)
		if _, err := s.PruneQuarantine(t.Context(), noon); err != nil {
			t.Error(err)
		}
		if left, _ := s.ListQuarantine(t.Context(), "", 99, 1); len(left) != keep {
			t.Errorf("%d left where %d are to be kept", len(left), keep)
		}
	}
	if err := s.Optimize(t.Context()); err != nil {
		t.Error(err)
	}
}

func TestCompactedHours(t *testing.T) {
	s := fresh(t)
	want := season(t, s)
	if at, err := s.Begun(t.Context()); at != noon || err != nil {
		t.Errorf("begun %v, %v", at, err)
	}
	if from, to, err := s.CompactedSpan(t.Context()); from != to || err != nil {
		t.Errorf("nothing compacted: %v to %v, %v", from, to, err)
	}
	if _, err := s.Compact(t.Context(), 1<<40, forever, 10_000); err != nil {
		t.Fatal(err)
	}
	from, to, err := s.CompactedSpan(t.Context())
	if from != noon || to != noon.Add(10*time.Hour) || err != nil {
		t.Errorf("span %v to %v, %v", from, to, err)
	}
	got := map[reading.NodeID][]reading.Sample{}
	hours := 0
	for at, ok := from, true; ok; hours++ {
		at, ok, err = s.CompactedHour(t.Context(), at, func(id reading.NodeID, all []reading.Sample) {
			got[id] = append(got[id], slices.Clone(all)...)
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	for _, id := range []reading.NodeID{"n-1", "n-2"} {
		if diff := cmp.Diff(want.samples(id, 0, forever), got[id]); diff != "" {
			t.Errorf("%s (-want +got)\n%s", id, diff)
		}
	}
	if at, err := s.Begun(t.Context()); at != noon || hours != 10 || err != nil {
		t.Errorf("begun %v after compaction, %d hours, %v", at, hours, err)
	}
}

// Days are counted back from the newest, whatever lies between them.
func TestDaysBack(t *testing.T) {
	s := fresh(t)
	if _, ok, err := s.DaysBack(t.Context(), 1); ok || err != nil {
		t.Errorf("an empty store has a day: %v", err)
	}
	day := noon.Add(-12 * time.Hour)
	for _, at := range []time.Duration{time.Hour, 23 * time.Hour, 24 * time.Hour, 72 * time.Hour} {
		mustAppend(t, s, pack("n-1", day.Add(at), 1))
	}
	if _, err := s.Compact(t.Context(), 1<<40, forever, 100); err != nil {
		t.Fatal(err)
	}
	for n, want := range map[int]time.Duration{1: 72 * time.Hour, 2: 24 * time.Hour, 3: 0} {
		if got, ok, err := s.DaysBack(t.Context(), n); got != day.Add(want) || !ok || err != nil {
			t.Errorf("%d days back: %v, %v, %v", n, got, ok, err)
		}
	}
	if _, ok, err := s.DaysBack(t.Context(), 4); ok || err != nil {
		t.Errorf("four of three days: %v", err)
	}
}
