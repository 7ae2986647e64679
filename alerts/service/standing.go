package service

import (
	"fmt"
	"strings"
	"time"

	"heaterd/alerts/outcome"
	"heaterd/ingest/reading"
)

// State is how close a task is.
type State string

// The states of the contract.
const (
	OK      State = "ok"
	DueSoon State = "due-soon"
	Due     State = "due"
	Overdue State = "overdue"
)

// Rank orders states by urgency, from 0.
func (s State) Rank() int {
	switch s {
	case DueSoon:
		return 1
	case Due:
		return 2
	case Overdue:
		return 3
	default:
		return 0
	}
}

// Facts are what is known of one heater at one moment.
type Facts struct {
	Now       reading.Instant
	Zone      *time.Location // the site's; nil: UTC
	Hours     Hours          // hour meter now
	Today     float64        // h that the burner ran today, of which Use knows nothing yet
	Dusty     bool           // works in dust
	Season    HeatingSeason  // zero: DefaultSeason
	SensorDue Date           // when the node's CO sensor must be verified, as configured; 0 not given
}

// Standing is where one task of one heater stands. Hours run from the last
// time the task was done.
type Standing struct {
	Task       string
	State      State
	HoursSince float64  // best estimate, h
	HoursHigh  float64  // the most it can be, h; State goes by this
	HoursLeft  *float64 // h to the nearest hour interval by the best estimate, below 0 when past; nil: no hour interval
	DueOn      *Date    // expected day; nil: not within the forecast's reach, or never by itself
	DueEarly   *Date    // with 10 % chance due by this day
	DueLate    *Date    // with 90 % chance due by this day; nil: later than the forecast reaches
	Trigger    Trigger  // the one that wins
	Logged     bool     // false: no entry for this task yet
	Last       Date     // day of the entry, or of the first sight
}

// Why says in one sentence what the task is due by.
func (s Standing) Why() string {
	var b strings.Builder
	b.WriteString(s.Trigger.why())
	if s.Logged {
		fmt.Fprintf(&b, "; last logged on %s, %.1f burner hours ago", s.Last.Words(), s.HoursSince)
	} else {
		fmt.Fprintf(&b, "; never logged, counted from %s", s.assumed())
	}
	if unseen := s.HoursHigh - s.HoursSince; unseen >= 0.05 && s.Trigger.Kind == BurnerHours {
		fmt.Fprintf(&b, "; up to %.1f h more may have run unseen and count", unseen)
	}
	return b.String()
}

func (s Standing) assumed() string {
	if s.Trigger.Kind == BurnerHours {
		return "the last full interval of the hour meter"
	}
	return "the first sight on " + s.Last.Words()
}

// When says when the task falls due, by each of its triggers.
func (t *Task) When() string {
	var all []string
	for _, g := range t.Triggers {
		all = append(all, g.why())
	}
	return strings.Join(all, "; ")
}

func (g Trigger) why() string {
	switch g.Kind {
	case BurnerHours:
		return fmt.Sprintf("every %g burner hours", g.Every) + g.where()
	case Days:
		return fmt.Sprintf("every %g days", g.Every) + g.where()
	case Season:
		return fmt.Sprintf("%g times a season", g.Every) + g.where()
	case HeavyMonth:
		return fmt.Sprintf("%g times a month in heavy use", g.Every) + g.where()
	case Deployment:
		return "before the first use after each move or stand"
	case SeasonEnd:
		return "when the season ends"
	case SensorDate:
		return "on the date set for the sensor"
	default:
		return "when found necessary"
	}
}

func (g Trigger) where() string {
	switch {
	case g.DustyOnly:
		return " in dust"
	case g.CleanOnly:
		return " out of dust"
	default:
		return ""
	}
}

// Outcome writes the standing as the contract's outcome line.
func (s Standing) Outcome(heater string, at reading.Instant) outcome.Service {
	return outcome.Service{
		Type: "service", At: at, Heater: heater, Task: s.Task, State: string(s.State),
		HoursSince: s.HoursSince, HoursLeft: s.HoursLeft,
		DueOn: text(s.DueOn), DueEarly: text(s.DueEarly), DueLate: text(s.DueLate),
	}
}

func text(d *Date) *string {
	if d == nil {
		return nil
	}
	s := d.String()
	return &s
}
