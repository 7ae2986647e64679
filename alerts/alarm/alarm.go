package alarm

import (
	"time"

	"heaterd/alerts/outcome"
	"heaterd/ingest/reading"
)

// Findings are what a text is made from beyond the figures: how sure it is,
// how long there is, what to look at first. All of it may be empty.
type Findings struct {
	Coverage  *float64      `json:"coverage,omitempty"` // share of the window that readings cover, 0 to 1
	Sure      string        `json:"sure,omitempty"`     // how sure, in words
	HasHarm   bool          `json:"has_harm,omitempty"` // HarmEarly and HarmLate are known
	HarmEarly time.Duration `json:"harm_early,omitempty"`
	HarmLate  time.Duration `json:"harm_late,omitempty"`
	Evidence  []string      `json:"evidence,omitempty"`
	Checks    []string      `json:"checks,omitempty"` // first checks, best first
	Cautions  []string      `json:"cautions,omitempty"`
	Heaters   []string      `json:"heaters,omitempty"` // other heaters concerned: in the space, on the supply
	Seen      []Seen        `json:"seen,omitempty"`    // heaters to look at: of a space, or out together
	Task      string        `json:"task,omitempty"`    // title of the service task
	Air       Kind          `json:"air,omitempty"`     // alarm about CO that stands where this one calls somebody to; empty: none
}

// Condition is what the rules found about one key, now.
type Condition struct {
	Key
	Active bool // it holds
	// Known says that it was measured not to hold. Not active and not known
	// is absence of evidence, and ends nothing.
	Known bool
	// Removed says that what it is about is there no more: nothing will ever be
	// measured of it, so it ends at once. All but the Key is passed over.
	Removed bool

	Value, Limit float64 // in Unit, where HasValue
	HasValue     bool
	Unit         string

	Priority Priority        // from the time to harm; empty: the rule's
	Since    reading.Instant // since when it holds; 0: now
	Late     bool            // it did hold, but the evidence came too late to tell anyone
	Findings Findings

	Under    *Key   // the cause this follows from: shown suppressed while the cause holds
	Suppress string // reason this is meant to be: shown suppressed
}

// Alarm is one occurrence of a key: from raised to normal again. It carries
// everything its further life depends on, so a Book is restored from alarms
// that went through JSON.
type Alarm struct {
	ID  string `json:"id"`
	Key `json:"key"`
	N   int `json:"n"`   // number of the occurrence, from 1
	Seq int `json:"seq"` // number of its transitions so far

	State    State    `json:"state"`
	Priority Priority `json:"priority"` // the highest of this occurrence
	Active   bool     `json:"active"`   // the condition holds, delays taken into account
	Acked    bool     `json:"acked"`
	Late     bool     `json:"late,omitempty"`

	Since   reading.Instant `json:"since,omitzero"`   // the condition began
	Raised  reading.Instant `json:"raised,omitzero"`  // the occurrence began; 0: not raised yet, an on-delay runs
	Changed reading.Instant `json:"changed,omitzero"` // last transition
	Cleared reading.Instant `json:"cleared,omitzero"` // the condition ended; 0 while it holds
	AckedAt reading.Instant `json:"acked_at,omitzero"`
	AckedBy string          `json:"acked_by,omitempty"`

	ShelvedUntil reading.Instant `json:"shelved_until,omitzero"`
	HeldBy       string          `json:"held_by,omitempty"` // who shelved it or took it out of service
	Why          string          `json:"why,omitempty"`     // why it is shelved, suppressed or out of service
	Cause        string          `json:"cause,omitempty"`   // id of the alarm it is folded under

	Value    float64  `json:"value"`           // in Unit, as are the next two; where HasValue
	Worst    float64  `json:"worst,omitempty"` // of the values while it held in this occurrence; 0 also where it was not noted
	Limit    float64  `json:"limit"`
	HasValue bool     `json:"has_value"`
	Unit     string   `json:"unit,omitempty"`
	Text     string   `json:"text,omitempty"`
	Findings Findings `json:"findings,omitzero"`

	OnFrom     reading.Instant   `json:"on_from,omitzero"`  // the on-delay runs from here; 0: it does not run
	Pending    Hold              `json:"pending,omitzero"`  // what will keep it back when the on-delay is over
	OffFrom    reading.Instant   `json:"off_from,omitzero"` // the off-delay runs from here
	Recent     []reading.Instant `json:"recent,omitempty"`  // last raises of the key, for chatter
	Chattering bool              `json:"chattering,omitempty"`
}

// Over reports whether the alarm needs nobody any more, or never did.
func (a Alarm) Over() bool { return a.State == Normal }

// Unanswered reports whether it asks for an acknowledgement that nobody has
// given.
func (a Alarm) Unanswered() bool {
	return a.State == Unacknowledged || a.State == Returned || a.State == Latched && !a.Acked
}

// Transition is one change of state of one alarm.
type Transition struct {
	At      reading.Instant `json:"at"`
	Alarm   Alarm           `json:"alarm"` // as it is afterwards
	From    State           `json:"from"`
	To      State           `json:"to"`
	Event   Event           `json:"event"`
	By      string          `json:"by,omitempty"`    // who; empty: the process or the clock
	Role    string          `json:"role,omitempty"`  // in which role
	Where   string          `json:"where,omitempty"` // from where: page, link, api, mqtt and the remote address
	Why     string          `json:"why,omitempty"`
	ReAlarm bool            `json:"re_alarm,omitempty"` // people who were told are to be told again
}

// Pages reports whether people are to be told: the alarm became or again
// became unacknowledged, in time.
func (t Transition) Pages() bool {
	return t.To == Unacknowledged && !t.Alarm.Late && (t.From != Unacknowledged || t.ReAlarm)
}

// Outcome is the transition in the contract's words.
func (t Transition) Outcome() outcome.Alarm {
	o := outcome.Alarm{
		Type: "alarm", At: t.At, ID: t.Alarm.ID,
		Kind: string(t.Alarm.Kind), Priority: string(t.Alarm.Priority), State: string(t.To),
		Site: t.Alarm.Site, Space: t.Alarm.Space, Heater: t.Alarm.Heater,
		Unit: t.Alarm.Unit, Text: t.Alarm.Text, Late: t.Alarm.Late,
	}
	if t.Alarm.HasValue {
		value, limit := outcome.Figure(t.Alarm.Value), outcome.Figure(t.Alarm.Limit)
		o.Value = &value
		if t.Alarm.HasLimit() {
			o.Limit = &limit
		}
	}
	return o
}

// HasLimit reports whether the value stands beside a limit: CO may rise where the
// site's set has none that a reading could be on its way to.
func (a *Alarm) HasLimit() bool { return a.HasValue && (a.Kind != CORising || a.Limit != 0) }
