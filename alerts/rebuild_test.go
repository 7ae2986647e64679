package alerts_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/ledger"
	"heaterd/alerts/outcome"
	"heaterd/ingest/store"
)

// near reports whether two counts of the hours agree within the bounds of
// either.
func near(a, b outcome.Hours) bool {
	slack := math.Max(a.High-a.Low, b.High-b.Low) + 1.0/120 // one interval between readings, h
	return a.Burns == b.Burns && a.Ignitions == b.Ignitions && math.Abs(a.Hours-b.Hours) <= slack
}

func compactAll(t *testing.T, s *store.Store, below int64) {
	t.Helper()
	for passed := 1; passed > 0; {
		var err error
		if passed, err = s.Compact(t.Context(), below, morning.Add(1000*time.Hour), 5000); err != nil {
			t.Fatal(err)
		}
	}
}

// thinAll thins what is compacted, all but the last hours.
func thinAll(t *testing.T, s *store.Store) {
	t.Helper()
	_, to, err := s.CompactedSpan(t.Context())
	hours := 0
	for n := 1; n > 0 && err == nil; hours++ {
		n, err = s.Thin(t.Context(), to.Add(-2*time.Hour))
	}
	if err != nil || hours < 12 {
		t.Fatalf("%d hours thinned, %v", hours, err)
	}
}

// A memory that cannot be read, of another version or lost, costs no hours:
// the readings kept by the hour give them again.
func TestHoursOutliveTheEnginesMemory(t *testing.T) {
	const span = 24 * time.Hour
	lines := work(span)
	undisturbed := fresh(t)
	fill(t, undisturbed, lines)
	engine, _ := follow(t, undisturbed)
	want := engine.Finish()
	for name, spoil := range map[string]string{
		"lost":          `DELETE FROM snapshot`,
		"newer version": `UPDATE snapshot SET body = X'A16756657273696F6E1903E7'`, // CBOR of {"Version": 999}
		"torn":          `UPDATE snapshot SET body = X'A1'`,
		"too old":       `UPDATE snapshot SET cursor = 1`,
		"lost, thinned": `DELETE FROM snapshot`,
	} {
		t.Run(name, func(t *testing.T) {
			s := fresh(t)
			half := len(lines) * 3 / 4
			fill(t, s, lines[:half])
			_, w := follow(t, s)
			compactAll(t, s, w.Kept()+1)
			if upto, _ := s.Compacted(t.Context()); upto != int64(half) {
				t.Fatalf("compacted to %d of %d", upto, half)
			}
			thinned := strings.HasSuffix(name, "thinned")
			if thinned {
				thinAll(t, s)
			}
			told := history(t, s)
			if _, err := s.Writer().Exec(spoil); err != nil {
				t.Fatal(err)
			}
			fill(t, s, lines[half:half+10])
			follow(t, s)
			if again := history(t, s); again != told {
				t.Errorf("%d changes of alarms before, %d after the start", told, again)
			}
			fill(t, s, lines[half+10:])
			engine, _ := follow(t, s)
			got := engine.Finish()
			for i, w := range want.Hours {
				if g := got.Hours[i]; !near(w, g) {
					t.Errorf("undisturbed %+v\nrebuilt     %+v", w, g)
				}
			}
			sameBurns(t, undisturbed, s)
			if !thinned && history(t, s) != history(t, undisturbed) { // without CO and temperature the alarms of the time after may differ
				t.Errorf("%d changes of alarms, undisturbed %d", history(t, s), history(t, undisturbed))
			}
		})
	}
}

func history(t *testing.T, s *store.Store) int {
	t.Helper()
	all, err := ledger.New(s).History(t.Context(), ledger.Filter{})
	if err != nil {
		t.Fatal(err)
	}
	return len(all)
}

func sameBurns(t *testing.T, a, b *store.Store) {
	t.Helper()
	want, err := ledger.New(a).Burns(t.Context(), "", 0, 0)
	if err != nil {
		t.Fatal(err)
	}
	got, err := ledger.New(b).Burns(t.Context(), "", 0, 0)
	if err != nil {
		t.Fatal(err)
	}
	if len(want) != len(got) {
		t.Fatalf("%d burns in the ledger, undisturbed %d", len(got), len(want))
	}
	for i := range want {
		if want[i].Heater != got[i].Heater || want[i].Start != got[i].Start || want[i].End != got[i].End {
			t.Errorf("burn %d: undisturbed %+v\nrebuilt %+v", i, want[i], got[i])
		}
	}
}
