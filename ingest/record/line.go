package record

import (
	"cmp"
	"fmt"
	"time"

	"heaterd/ingest/reading"
)

// Line is one line of the log. Exactly one of the pointers is set; none set
// is a tick, which only says that it was At.
type Line struct {
	ID       int64           // position in the log, ascending from 1; 0 outside a log
	At       reading.Instant // when it arrived, by the daemon's clock
	Pack     *reading.Pack   // telemetry of one node
	Status   *Status         // a node's own online or offline message
	Entry    *Entry          // service work done
	Stop     *PlannedStop    // a person says a heater will be off
	Withdraw *Withdrawal     // an entry was wrong
	Answer   *Answer         // a person answered an alarm
	Refused  *Refused        // a message that could not be read
	Notice   *Notice         // the daemon's word about itself
	Retained bool            // a pack or status the broker kept: last known, not fresh
}

// Node gives the node that the line is of, or would be of if it could be read;
// empty where it is of none.
func (l Line) Node() reading.NodeID {
	switch {
	case l.Pack != nil:
		return l.Pack.Node
	case l.Status != nil:
		return l.Status.Node
	case l.Refused != nil:
		return l.Refused.Node
	}
	return ""
}

// Status is a node's retained word about itself; offline is also its will.
type Status struct {
	Node   reading.NodeID
	Online bool
}

// Refused is a message that could not be read; the payload is in quarantine.
type Refused struct {
	Topic  string
	Node   reading.NodeID // where the topic told it, else empty
	Reason reading.Reason
	Detail string
}

// Notice is the daemon's own word: something it needs does not work, or works
// again.
type Notice struct {
	About  string `json:"about"`            // "channel" or "store"
	Detail string `json:"detail,omitempty"` // which channel
	Down   bool   `json:"down"`
	Why    string `json:"why,omitempty"`
}

// Entry is a line of the service log: work done on a heater. Task "refuel"
// fills the tank; task "meter" only tells the hour meter.
type Entry struct {
	Heater string   `json:"heater"`
	Task   string   `json:"task"`
	Tasks  []string `json:"tasks,omitempty"` // further tasks closed by the same visit
	By     string   `json:"by,omitempty"`
	Note   string   `json:"note,omitempty"`
	MeterH *float64 `json:"meter_h,omitempty"` // hour meter as read by the person, h
	Found  string   `json:"found,omitempty"`   // what was found wrong, a check of the shutdown list
	Litres *float64 `json:"litres,omitempty"`  // refuel: what was filled in, L; nil: to the brim
	Node   string   `json:"node,omitempty"`    // task "fit-node": the node now fitted to this heater
	// Done is when the work was done, where that was not when it was written
	// down; 0: it was.
	Done reading.Instant `json:"done_at,omitzero"`
}

// MostMeterH is the most that an hour meter shows, h; beyond it is a slip of
// the pen. Common practice, no source.
const MostMeterH = 200_000

// WrittenWithin is how long after the work an entry may be written down with
// the time when it was done: a week, as long as burner hours are remembered
// hour by hour. Common practice, no source: who writes it down later seldom
// remembers the hour.
const WrittenWithin = 7 * 24 * time.Hour

// StopTask stands for the task where a planned stop is listed among entries.
const StopTask = "planned-stop"

// StopEndTask stands there for the word that ends one.
const StopEndTask = "planned-stop-end"

// PlannedStop is a person's word that a heater is, was or will be off for a
// while.
type PlannedStop struct {
	Heater string        `json:"heater"`
	For    time.Duration `json:"for"` // above 0, but for the word that ends one
	By     string        `json:"by,omitempty"`
	Note   string        `json:"note,omitempty"`
	// From is when it begins, where that is not when it was written down;
	// 0: it is.
	From reading.Instant `json:"from,omitzero"`
	// End says that the heater is wanted on again: what runs ends now, and what
	// was to come does not. For and From mean nothing then.
	End bool `json:"end,omitempty"`
}

// StopAhead is how long before its beginning a planned stop may be written
// down: over the holidays. Common practice, no source.
const StopAhead = 31 * 24 * time.Hour

// Begins gives when a stop written down at an instant begins.
func (s *PlannedStop) Begins(written reading.Instant) reading.Instant {
	return cmp.Or(s.From, written)
}

// Check refuses a stop written down at an instant that begins too long before
// or after it.
func (s *PlannedStop) Check(written reading.Instant) error {
	switch from := s.Begins(written); {
	case s.End:
		return nil
	case from < written.Add(-WrittenWithin):
		return fmt.Errorf("a planned stop may begin up to %d days before it is written down", days(WrittenWithin))
	case from > written.Add(StopAhead):
		return fmt.Errorf("a planned stop may begin up to %d days after it is written down", days(StopAhead))
	}
	return nil
}

func days(d time.Duration) int { return int(d / (24 * time.Hour)) }

// Act is what a person does to an alarm or a heater.
type Act string

// The acts.
const (
	Acknowledge  Act = "acknowledge"
	Shelve       Act = "shelve"
	Unshelve     Act = "unshelve"
	Reset        Act = "reset" // of a latched alarm, by someone of the safety role, after the site cleared the space
	OutOfService Act = "out-of-service"
	InService    Act = "in-service"
)

// Answer is a person's act on one alarm, or on a heater for the service acts.
type Answer struct {
	Act    Act           `json:"act"`
	Alarm  string        `json:"alarm,omitempty"`  // alarm id
	Heater string        `json:"heater,omitempty"` // for the service acts
	By     string        `json:"by"`
	Role   string        `json:"role,omitempty"` // viewer, technician, safety
	From   string        `json:"from,omitempty"` // page, link, api, mqtt and the remote address
	Why    string        `json:"why,omitempty"`
	For    time.Duration `json:"for,omitempty"` // shelving only
}
