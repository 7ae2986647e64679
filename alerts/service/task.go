package service

import (
	"errors"
	"fmt"
	"math"
)

// NoSource marks a task or figure that no document is named for.
const NoSource = "common practice, no source"

// MaxTasks is how many tasks a plan may hold; a Book has room for this many.
const MaxTasks = 24

// Task is one piece of service work.
type Task struct {
	ID       string
	Title    string
	Triggers []Trigger // the earliest wins
	Parts    []string
	Tools    []string
	Cautions []string
	Steps    []string
	Source   string // the document the interval comes from, or NoSource
}

// TriggerKind is what a task's interval counts.
type TriggerKind string

// The kinds of trigger.
const (
	BurnerHours TriggerKind = "burner-hours" // Every in burner hours since the task was last done
	Days        TriggerKind = "days"         // Every in days since the task was last done
	Season      TriggerKind = "season"       // Every times a season
	HeavyMonth  TriggerKind = "heavy-month"  // Every times a month while in heavy use
	Deployment  TriggerKind = "deployment"   // at each new deployment: before the first burn after moving or standing
	Condition   TriggerKind = "condition"    // when found necessary, never by itself
	SeasonEnd   TriggerKind = "season-end"   // once, when the season ends
	SensorDate  TriggerKind = "sensor-date"  // on the date the configuration gives, until the task is first logged
)

// Trigger is one reason for a task to fall due.
type Trigger struct {
	Kind      TriggerKind
	Every     float64 // burner hours, days, or times, by Kind
	DustyOnly bool    // only for heaters that work in dust
	CleanOnly bool    // only for heaters that do not
}

// Plan is the list of tasks of a fleet.
type Plan struct {
	Name  string
	Tasks []Task
}

// How close to its interval a task is called due soon or overdue, and what
// heavy use is (common practice, no source).
const (
	soonShare  = 0.10  // due soon within this share of the interval, ratio
	soonDays   = 7.0   // and, for calendar intervals, never more than this many days ahead
	lateShare  = 0.10  // overdue beyond this share of the interval, ratio
	lateDays   = 7.0   // and, for calendar intervals, after this many days at the latest
	heavyHours = 200.0 // burner hours within heavyDays that make heavy use, h
	heavyDays  = 30    // days, at most useDays
)

// Index gives the position of a task, or -1.
func (p Plan) Index(id string) int {
	for i := range p.Tasks {
		if p.Tasks[i].ID == id {
			return i
		}
	}
	return -1
}

// Check reports everything that is wrong with a plan: too many tasks, an
// empty or repeated id, a task that names no source, a trigger that cannot
// fire.
func (p Plan) Check() error {
	var errs []error
	if len(p.Tasks) > MaxTasks {
		errs = append(errs, fmt.Errorf("plan %q has %d tasks: at most %d", p.Name, len(p.Tasks), MaxTasks))
	}
	seen := map[string]bool{}
	for _, t := range p.Tasks {
		if seen[t.ID] {
			errs = append(errs, fmt.Errorf("task %q is there twice", t.ID))
		}
		seen[t.ID] = true
		errs = append(errs, t.check())
	}
	return errors.Join(errs...)
}

// entryTasks are words of the service log that are no work of a plan.
var entryTasks = map[string]bool{"refuel": true, "meter": true, "fit-node": true, "planned-stop": true}

func (t Task) check() error {
	var errs []error
	if !slug(t.ID) || entryTasks[t.ID] {
		errs = append(errs, fmt.Errorf("task id %q: lower-case letters, digits and hyphens, at most 40, and not refuel, meter, fit-node or planned-stop", t.ID))
	}
	if t.Title == "" || t.Source == "" {
		errs = append(errs, fmt.Errorf("task %q: needs a title and a source", t.ID))
	}
	if len(t.Triggers) == 0 {
		errs = append(errs, fmt.Errorf("task %q: needs a trigger (condition, if it is only done when found necessary)", t.ID))
	}
	for _, g := range t.Triggers {
		if err := g.check(); err != nil {
			errs = append(errs, fmt.Errorf("task %q: %w", t.ID, err))
		}
	}
	return errors.Join(errs...)
}

func slug(s string) bool {
	for _, c := range s {
		if (c < 'a' || c > 'z') && (c < '0' || c > '9') && c != '-' {
			return false
		}
	}
	return s != "" && len(s) <= 40
}

// mostEvery is the largest interval that makes sense for each kind that has one.
var mostEvery = map[TriggerKind]float64{
	BurnerHours: 100_000, // h
	Days:        3650,    // days
	Season:      100,     // times
	HeavyMonth:  30,      // times
}

func (g Trigger) check() error {
	if g.DustyOnly && g.CleanOnly {
		return fmt.Errorf("trigger %s: for dusty and for clean heaters only, so for none", g.Kind)
	}
	switch g.Kind {
	case BurnerHours, Days, Season, HeavyMonth:
		if !(g.Every > 0) || g.Every > mostEvery[g.Kind] || math.IsNaN(g.Every) {
			return fmt.Errorf("trigger %s: every %v: above 0 and at most %v", g.Kind, g.Every, mostEvery[g.Kind])
		}
	case Deployment, Condition, SeasonEnd, SensorDate:
		if g.Every != 0 {
			return fmt.Errorf("trigger %s: takes no interval", g.Kind)
		}
	default:
		return fmt.Errorf("trigger kind %q is not known", g.Kind)
	}
	return nil
}

// applies reports whether the trigger is meant for a heater that works in
// dust or does not.
func (g Trigger) applies(dusty bool) bool {
	return !(g.DustyOnly && !dusty) && !(g.CleanOnly && dusty)
}
