package jobsite_test

import (
	"reflect"
	"slices"
	"testing"
	"time"

	"heaterd/ingest/capture"
	"heaterd/ingest/jobsite"
)

var words = []string{"satisfied", "planned", "supply-lost", "fuel-out", "site-wide", "unexplained", "unknown"}

// niosh is the ceiling of the NIOSH REL, ppm (NIOSH Pocket Guide).
const niosh = 200

func TestDemoShowsEverythingWithinSixHours(t *testing.T) {
	for seed := range uint64(48) {
		w := build(t, jobsite.Demo(seed, start.Add(time.Duration(seed)*7*time.Hour)))
		w.Step(6 * time.Hour)
		truth := w.Truth()
		n := truth.Endings()
		for _, word := range words {
			if n[word] == 0 {
				t.Errorf("seed %d: no burn ends %s: %v", seed, word, n)
			}
		}
		over := func(s jobsite.SpaceTruth) bool { return s.PeakPPM > niosh }
		if !slices.ContainsFunc(truth.Spaces, over) {
			t.Errorf("seed %d: no space over %d ppm: %+v", seed, niosh, truth.Spaces)
		}
		for _, h := range truth.Heaters {
			if at := h.BurntS; h.ID == "H-03" && 498.9*3600+float64(at) < 500*3600 {
				t.Errorf("seed %d: H-03 burns only %d s, short of its service", seed, at)
			}
		}
	}
}

func TestDemoMovesInItsFirstMinutes(t *testing.T) {
	w := build(t, jobsite.Demo(1, start))
	ms := w.Step(10 * time.Minute)
	n := w.Truth().Endings()
	if n["satisfied"] == 0 || n["unexplained"] == 0 {
		t.Errorf("after ten minutes: %v", n)
	}
	if len(ms) < 200 {
		t.Errorf("%d messages", len(ms))
	}
	for _, s := range w.Truth().Spaces {
		if s.ID == "tent" && s.COPPM < 20 {
			t.Errorf("the tent is at %v ppm", s.COPPM)
		}
	}
}

func TestDemoGoesOn(t *testing.T) {
	w := build(t, jobsite.Demo(1, start))
	w.Step(24 * time.Hour)
	before := w.Truth().Endings()
	w.Step(24 * time.Hour)
	for word, n := range w.Truth().Endings() {
		if n == before[word] {
			t.Errorf("the second day has no ending %s", word)
		}
	}
}

// The mix of a labelled set is that of its world; the sets themselves, with
// every line written, are left to those who read them.
func TestLabelledHasEnoughOfEachEnding(t *testing.T) {
	if testing.Short() {
		t.Skip("weeks of the model take seconds")
	}
	for seed, l := range []jobsite.LabelSpec{{}, {Reporting: 120 * time.Second}, {ClockFaults: true, Forget: 0.1}, {}} {
		w := build(t, jobsite.LabelledSpec(uint64(seed), l))
		for range 14 * 24 {
			w.Step(time.Hour)
		}
		truth := w.Truth()
		seen := map[string]int{}
		for _, h := range truth.Heaters {
			for _, b := range h.Burns {
				if b.Samples > 0 {
					seen[b.Ending]++
				}
			}
		}
		t.Logf("seed %d: burns %v, of them sampled %v", seed, truth.Endings(), seen)
		for _, word := range words {
			if seen[word] < 20 {
				t.Errorf("seed %d: %d sampled burns end %s", seed, seen[word], word)
			}
			if word != "satisfied" && seen[word] >= seen["satisfied"]/3 {
				t.Errorf("seed %d: %s rivals satisfied: %v", seed, word, seen)
			}
		}
	}
}

func TestLabelledIsDeterministic(t *testing.T) {
	l := jobsite.LabelSpec{Days: 1, Heaters: 7, ClockFaults: true, Delivery: jobsite.DeliverySpec{
		ShuffleWithin: time.Minute, Duplicate: 0.1, Loss: 0.05, Join: 0.1, Split: 0.1, CBOR: 0.3,
	}}
	type set struct {
		yaml  string
		lines []capture.Line
	}
	of := func(seed uint64) set {
		yaml, lines, _, err := jobsite.Labelled(seed, l)
		if err != nil {
			t.Fatal(err)
		}
		return set{yaml, lines}
	}
	if !reflect.DeepEqual(of(4), of(4)) {
		t.Error("the same seed gives another set")
	}
	if reflect.DeepEqual(of(4), of(5)) {
		t.Error("another seed gives the same set")
	}
}

func TestSeason(t *testing.T) {
	idle := 0
	for seed := range uint64(20) {
		days := jobsite.Season(seed)
		if len(days) != 180 || days[0].Weekday != time.Monday {
			t.Fatalf("%d days from %v", len(days), days[0].Weekday)
		}
		var weekday, weekend float64
		for i, d := range days {
			if d.Day != i || d.Hours < 0 || d.Hours > 24 || d.Idle && d.Hours != 0 {
				t.Fatalf("seed %d: %+v", seed, d)
			}
			if d.Idle {
				idle++
			}
			if d.Weekday == time.Saturday || d.Weekday == time.Sunday {
				weekend += d.Hours / 2
			} else {
				weekday += d.Hours / 5
			}
		}
		if weekend > weekday/2 || weekday == 0 {
			t.Errorf("seed %d: weekend %v, working days %v", seed, weekend, weekday)
		}
	}
	if idle == 0 {
		t.Error("no idle week in twenty seasons")
	}
}
