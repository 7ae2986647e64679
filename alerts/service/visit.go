package service

import (
	"cmp"
	"slices"
)

// VisitHorizon is how many days ahead a visit looks for work it can do on
// the same way (common practice, no source).
const VisitHorizon = 14

// HeaterStandings is where the tasks of one heater stand.
type HeaterStandings struct {
	Heater    string
	Standings []Standing
}

// Visit is what one visit can do, with what to bring.
type Visit struct {
	Heaters  []HeaterVisit // most urgent first
	Parts    []Item        // in the plan's order, counted over all heaters
	Tools    []string      // each once, in the plan's order
	Cautions []string      // each once: the site and people's air first, then the plan's order
	Work     []Task        // how it is done: each task once, in the plan's order
}

// HeaterVisit is the work on one heater.
type HeaterVisit struct {
	Heater string
	Tasks  []Standing // most urgent first
}

// Item is a part and how many of it.
type Item struct {
	Name  string
	Count int
}

// MakeVisit gathers everything that is due, due soon or expected to fall due
// within VisitHorizon of today. A part that two tasks of one heater ask for is
// brought once.
func MakeVisit(p Plan, today Date, heaters []HeaterStandings) Visit {
	v := Visit{}
	for _, h := range heaters {
		if w := workOn(h, today+VisitHorizon); len(w.Tasks) > 0 {
			v.Heaters = append(v.Heaters, w)
		}
	}
	slices.SortStableFunc(v.Heaters, func(a, b HeaterVisit) int {
		return cmp.Or(byUrgency(a.Tasks[0], b.Tasks[0]), cmp.Compare(a.Heater, b.Heater))
	})
	v.gather(p)
	return v
}

func workOn(h HeaterStandings, until Date) HeaterVisit {
	w := HeaterVisit{Heater: h.Heater}
	for _, s := range h.Standings {
		if s.State != OK || s.DueOn != nil && *s.DueOn <= until {
			w.Tasks = append(w.Tasks, s)
		}
	}
	slices.SortStableFunc(w.Tasks, byUrgency)
	return w
}

func byUrgency(a, b Standing) int {
	return cmp.Or(cmp.Compare(b.State.Rank(), a.State.Rank()), cmp.Compare(dueOr(a), dueOr(b)))
}

// dueOr gives the expected day, or one after all others.
func dueOr(s Standing) Date {
	if s.DueOn == nil {
		return 1<<31 - 1
	}
	return *s.DueOn
}

func (v *Visit) gather(p Plan) {
	for _, t := range p.Tasks {
		if heaters := v.with(t.ID); len(heaters) > 0 {
			v.Work = append(v.Work, t)
			v.Tools, v.Cautions = addNew(v.Tools, t.Tools), addNew(v.Cautions, t.Cautions)
		}
	}
	v.bringParts()
	slices.SortStableFunc(v.Cautions, peopleFirst)
}

// with gives the heaters of the visit that a task is to be done on.
func (v *Visit) with(task string) []string {
	var out []string
	for _, h := range v.Heaters {
		if h.has(task) {
			out = append(out, h.Heater)
		}
	}
	return out
}

func (v *Visit) bringParts() {
	brought := map[[2]string]bool{} // heater, part
	for _, t := range v.Work {
		for _, heater := range v.with(t.ID) {
			for _, part := range t.Parts {
				if k := [2]string{heater, part}; !brought[k] {
					brought[k] = true
					v.bring(part)
				}
			}
		}
	}
}

// peopleFirst puts the site's procedure and fresh air before all other cautions.
func peopleFirst(a, b string) int {
	rank := func(s string) int {
		return slices.Index([]string{freshAir, siteFirst}, s) // absent: -1
	}
	return cmp.Compare(rank(b), rank(a))
}

func (h HeaterVisit) has(id string) bool {
	return slices.ContainsFunc(h.Tasks, func(s Standing) bool { return s.Task == id })
}

func (v *Visit) bring(part string) {
	for i := range v.Parts {
		if v.Parts[i].Name == part {
			v.Parts[i].Count++
			return
		}
	}
	v.Parts = append(v.Parts, Item{part, 1})
}

func addNew(all, more []string) []string {
	for _, s := range more {
		if !slices.Contains(all, s) {
			all = append(all, s)
		}
	}
	return all
}
