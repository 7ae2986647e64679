package service

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func at(t testing.TB, task string, st State, due string) Standing {
	d := day(t, due)
	return Standing{Task: task, State: st, DueOn: &d}
}

func TestVisitGathersWorkPartsAndCautions(t *testing.T) {
	p, today := Default(), day(t, "2026-01-12")
	v := MakeVisit(p, today, []HeaterStandings{
		{"H-1", []Standing{at(t, "fuel-filter", OK, "2026-03-01")}},
		{"H-2", []Standing{at(t, "intake-filter", DueSoon, "2026-01-15"), at(t, "fuel-filter", OK, "2026-01-26"), at(t, "fuel-lines", OK, "2026-01-27")}},
		{"H-3", []Standing{at(t, "service-500h", Overdue, "2025-12-01"), at(t, "intake-filter", Due, "2026-01-10"), at(t, "nozzle", OK, "2026-02-01")}},
	})
	if len(v.Heaters) != 2 || v.Heaters[0].Heater != "H-3" || v.Heaters[1].Heater != "H-2" {
		t.Fatalf("heaters %+v", v.Heaters)
	}
	if got := v.Heaters[1].Tasks; len(got) != 2 || got[1].Task != "fuel-filter" {
		t.Errorf("a task of day 14 belongs to the visit, one of day 15 does not: %+v", got)
	}
	count := map[string]int{}
	for _, it := range v.Parts {
		count[it.Name] += it.Count
	}
	if count["Air intake filter (spare)"] != 2 || count["Fuel filter"] != 2 {
		t.Errorf("one of each for each heater, though two tasks ask for it: %v", v.Parts)
	}
	var work []string
	for _, task := range v.Work {
		work = append(work, task.ID)
		if len(task.Steps) == 0 {
			t.Errorf("%s: nothing says how it is done", task.ID)
		}
	}
	if want := []string{"intake-filter", "service-500h", "fuel-filter"}; !slices.Equal(work, want) {
		t.Errorf("work %v, want each task once, %v", work, want)
	}
	if v.Cautions[0] != siteFirst || v.Cautions[1] != freshAir {
		t.Errorf("first cautions: %q", v.Cautions[:2])
	}
}

func TestVisitRepeatsNothing(t *testing.T) {
	zones := threeZones(t)
	rapid.Check(t, func(t *rapid.T) {
		s := drawScene(t, zones)
		hs := []HeaterStandings{{"a", s.status()}, {"b", s.status()}}
		v := MakeVisit(s.p, DateOf(s.f.Now, s.f.Zone), hs)
		for _, list := range [][]string{v.Tools, v.Cautions} {
			c := slices.Clone(list)
			slices.Sort(c)
			if len(slices.Compact(c)) != len(list) {
				t.Fatalf("repeated: %q", list)
			}
		}
		for _, h := range v.Heaters {
			if !slices.IsSortedFunc(h.Tasks, byUrgency) {
				t.Fatal("not the most urgent first")
			}
		}
	})
}
