package service

import (
	"math"
	"strings"
	"testing"
)

func nan() float64 { return math.NaN() }

func TestDefaultPlanIsSound(t *testing.T) {
	p := Default()
	if err := p.Check(); err != nil {
		t.Fatal(err)
	}
	for _, task := range p.Tasks {
		if len(task.Cautions) == 0 || task.Cautions[0] != siteFirst {
			t.Errorf("%s: the site's procedure is not its first caution", task.ID)
		}
		if len(task.Steps) == 0 || len(task.Tools) == 0 {
			t.Errorf("%s: no steps or no tools", task.ID)
		}
	}
}

func TestWorkOnFuelWarnsOfFuel(t *testing.T) {
	p := Default()
	for _, id := range []string{"tank-flush", "fuel-filter", "fuel-lines", "nozzle", "put-away", "service-500h"} {
		all := strings.Join(p.Tasks[p.Index(id)].Cautions, " ")
		for _, must := range []string{freshAir, coolDown, isolate, noFlame, licensed, ownManual} {
			if !strings.Contains(all, must) {
				t.Errorf("%s does not say: %s", id, must)
			}
		}
	}
}

func TestPlanCheckRefuses(t *testing.T) {
	ok := Task{ID: "a", Title: "A", Source: NoSource, Triggers: []Trigger{{Kind: Days, Every: 1}}}
	with := func(f func(*Task)) Task { c := ok; f(&c); return c }
	trigger := func(g Trigger) Task { return with(func(t *Task) { t.Triggers = []Trigger{g} }) }
	for name, tasks := range map[string][]Task{
		"there twice":     {ok, ok},
		"task id":         {with(func(t *Task) { t.ID = "Not A Slug" })},
		"refuel":          {with(func(t *Task) { t.ID = "refuel" })},
		"needs a title":   {with(func(t *Task) { t.Source = "" })},
		"needs a trigger": {with(func(t *Task) { t.Triggers = nil })},
		"above 0":         {trigger(Trigger{Kind: BurnerHours})},
		"at most":         {trigger(Trigger{Kind: BurnerHours, Every: nan()})},
		"so for none":     {trigger(Trigger{Kind: Days, Every: 1, DustyOnly: true, CleanOnly: true})},
		"takes no":        {trigger(Trigger{Kind: Deployment, Every: 3})},
		"not known":       {trigger(Trigger{Kind: "moon"})},
		"at most 24":      make([]Task, 25),
	} {
		if err := (Plan{Tasks: tasks}).Check(); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: got %v", name, err)
		}
	}
}

func TestLookOverList(t *testing.T) {
	seen := map[string]bool{}
	for _, c := range LookOver() {
		if seen[c.ID] || !slug(c.ID) || c.Text == "" || c.IfFailed == "" {
			t.Errorf("item %+v is repeated or incomplete", c)
		}
		seen[c.ID] = true
	}
	if l := LookOver(); l[0].ID != "procedure" || l[1].ID != "fresh-air" {
		t.Error("the site's procedure and fresh air come first")
	}
}

// Who writes down what failed may put a space after the comma or none.
func TestWhatKeepsAHeaterOff(t *testing.T) {
	for failed, want := range map[string]bool{
		"": false, "fuel": false, "leaks": true, "fuel, leaks": true, "fuel,leaks": true, " leaks ,fuel": true, "fuel,other-filters": false,
	} {
		if got := KeepsOff(failed); got != want {
			t.Errorf("%q keeps it off: %t, want %t", failed, got, want)
		}
	}
}
