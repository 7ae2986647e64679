package store_test

import (
	"maps"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/store"
)

// model is what Samples must give: all samples by instant, merged.
type model map[reading.NodeID]map[reading.Instant]reading.Sample

func (m model) add(p *reading.Pack) {
	if m[p.Node] == nil {
		m[p.Node] = map[reading.Instant]reading.Sample{}
	}
	for _, s := range p.Samples {
		if old, ok := m[p.Node][s.At]; ok {
			s = old.Merge(s)
		}
		m[p.Node][s.At] = s
	}
}

func (m model) samples(id reading.NodeID, from, to reading.Instant) (all []reading.Sample) {
	for _, at := range slices.Sorted(maps.Keys(m[id])) {
		if at >= from && at < to {
			all = append(all, m[id][at])
		}
	}
	return all
}

func samples(t test, s *store.Store, id reading.NodeID, from, to reading.Instant) (all []reading.Sample) {
	err := s.Samples(t.Context(), id, from, to, func(s reading.Sample) bool { all = append(all, s); return true })
	if err != nil {
		t.Fatal(err)
	}
	return all
}

const forever = reading.Instant(1<<62 - 1)

func TestSamplesAreTheSameBeforeAndAfterCompaction(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s := fresh(t)
		defer s.Close()
		if _, err := s.Writer().Exec("PRAGMA synchronous = OFF"); err != nil { // a disk's time is not the matter here
			rt.Fatal(err)
		}
		want := model{}
		node := rapid.SampledFrom([]reading.NodeID{"n-1", "n-2"})
		near := rapid.Map(rapid.Int64Range(-3*3600, 3*3600), func(v int64) reading.Instant { return noon.AddSeconds(float64(v)) })
		rt.Repeat(map[string]func(*rapid.T){
			"append": func(rt *rapid.T) {
				p := &reading.Pack{Node: node.Draw(rt, "node"), Samples: anySamples(near, 3*time.Hour).Draw(rt, "samples")}
				mustAppend(rt, s, record.Line{At: near.Draw(rt, "at"), Pack: p}, record.Line{At: noon})
				want.add(p)
			},
			"compact": func(rt *rapid.T) {
				below := rapid.Int64Range(0, s.Last()+1).Draw(rt, "below")
				if _, err := s.Compact(rt.Context(), below, near.Draw(rt, "old"), rapid.IntRange(1, 9).Draw(rt, "batch")); err != nil {
					rt.Fatal(err)
				}
			},
			"": func(rt *rapid.T) {
				id, from, to := node.Draw(rt, "node"), near.Draw(rt, "from"), near.Draw(rt, "to")
				if diff := cmp.Diff(want.samples(id, from, to), samples(rt, s, id, from, to)); diff != "" {
					rt.Fatalf("samples differ (-want +got):\n%s", diff)
				}
				if diff := cmp.Diff(want.samples(id, -forever, forever), samples(rt, s, id, -1e15, 4e15)); diff != "" {
					rt.Fatalf("samples differ (-want +got):\n%s", diff)
				}
			},
		})
	})
}

func TestRollupIsTheSameBeforeAndAfterCompaction(t *testing.T) {
	s := fresh(t)
	var lines []record.Line
	for i := range 1000 { // 10 s apart, one in seven missing, out of order by pairs
		at := noon.AddSeconds(float64(10 * (i ^ 1)))
		if i%7 == 0 {
			continue
		}
		l := pack("n-1", at, float32(i%50))
		l.Pack.Samples[0].Has |= reading.Temp
		l.Pack.Samples[0].Temp = float32(i) / 10
		lines = append(lines, l, pack("n-2", at, 7))
	}
	mustAppend(t, s, lines...)
	last := s.Last()
	rollup := func(step time.Duration) []store.Step {
		got, err := s.Rollup(t.Context(), "n-1", noon.Add(-time.Hour), noon.Add(4*time.Hour), step)
		if err != nil {
			t.Fatal(err)
		}
		return got
	}
	for _, step := range []time.Duration{10 * time.Minute, time.Hour, 2 * time.Hour} {
		want := rollup(step)
		n := 0
		for _, w := range want {
			n += w.Samples
		}
		if n != 857 || len(want) != int((5*time.Hour+step-1)/step) {
			t.Errorf("%v: %d samples in %d steps, %+v", step, n, len(want), want[0])
		}
		for _, part := range []int64{last / 3, last + 1} {
			for passed := 1; passed > 0; {
				passed, _ = s.Compact(t.Context(), part, forever, 100)
			}
			if diff := cmp.Diff(want, rollup(step)); diff != "" {
				t.Errorf("%v, compacted to %d (-before +after):\n%s", step, part, diff)
			}
		}
	}
	hour := rollup(time.Hour)[1]
	if hour.CO.Max != 49 || hour.CO.Min != 0 || hour.Lit != hour.Seen || hour.Lit < 3500 || hour.Lit > 3600 {
		t.Errorf("the first hour: %+v", hour)
	}
}

func TestCompactionKeepsWhatPeopleDidAndTheIDs(t *testing.T) {
	path := t.TempDir() + "/h.db"
	s := open(t, path)
	mustAppend(t, s,
		pack("n-1", noon, 1), record.Line{At: noon}, record.Line{At: noon, Entry: &record.Entry{Heater: "H-1"}},
		record.Line{At: noon, Status: &record.Status{Node: "n-1"}}, pack("n-1", noon.Add(time.Hour), 2))
	if passed, err := s.Compact(t.Context(), 99, noon.Add(time.Minute), 99); passed != 4 || err != nil {
		t.Fatalf("passed over %d, %v", passed, err)
	}
	lines, err := s.Lines(t.Context(), 0, 99)
	if err != nil || len(lines) != 3 || lines[0].Entry == nil || lines[1].Status == nil || lines[2].ID != 5 {
		t.Errorf("%v %+v", err, lines)
	}
	if passed, err := s.Compact(t.Context(), 99, forever, 99); passed != 1 || err != nil {
		t.Fatalf("passed over %d, %v", passed, err)
	}
	_ = s.Close()
	s = open(t, path)
	if upto, _ := s.Compacted(t.Context()); upto != 5 {
		t.Errorf("compacted to %d", upto)
	}
	if last := mustAppend(t, s, pack("n-1", noon, 3)); last != 6 {
		t.Errorf("an id came back: %d", last)
	}
	if got := samples(t, s, "n-1", 0, forever/2); len(got) != 2 || got[0].CO != 3 || got[1].CO != 2 {
		t.Errorf("samples %+v", got)
	}
}
