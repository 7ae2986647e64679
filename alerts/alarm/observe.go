package alarm

import (
	"fmt"
	"math"

	"heaterd/ingest/reading"
)

// Observe takes in what the rules found about one key. Observe causes before
// what follows from them: a condition is folded under its cause only while
// the book knows the cause to hold or its on-delay to run.
//
// Timers that are due run out first, as Tick would have it. A condition that
// does not hold, of a key that is quiet, costs one look into a map and
// allocates nothing.
func (b *Book) Observe(now reading.Instant, c Condition) []Transition {
	switch {
	case c.Removed:
		return b.remove(now, c.Key)
	case !c.Active && b.Quiet(c.Key):
		return nil
	}
	out := b.Tick(now)
	switch {
	case c.Late && c.Active:
		return append(out, b.late(now, c)...)
	case c.Active:
		return append(out, b.holds(now, c)...)
	case c.Known:
		return append(out, b.gone(now, c)...)
	default:
		return out
	}
}

// late writes down a condition that held when nobody could be told. An
// occurrence under way, or about to be, stands for it already, and so does
// whatever would have kept it back.
func (b *Book) late(now reading.Instant, c Condition) []Transition {
	e := b.place(c.Key)
	if e.State != Normal || e.OnFrom != 0 || c.hold(b, e).Event != "" {
		return nil
	}
	e.take(c, now)
	e.Late, e.Cleared = true, now
	return b.move(e, LateEvidence, now, person{why: "the evidence arrived late"})
}

func (b *Book) holds(now reading.Instant, c Condition) []Transition {
	e := b.place(c.Key)
	e.take(c, now)
	e.OffFrom = 0
	if e.Active {
		return append(b.regard(e, now, c), b.graver(e, now, c)...)
	}
	if e.OnFrom == 0 {
		e.OnFrom = e.Since
	}
	e.Pending = c.hold(b, e)
	b.expect(e)
	if now < e.OnFrom.Add(e.rule.OnDelay) {
		return nil
	}
	return b.raise(e, now)
}

// take copies what the condition says; within an occurrence the priority
// only rises, and it began when it first began.
func (e *entry) take(c Condition, now reading.Instant) {
	start := c.Since
	if start == 0 || start > now {
		start = now
	}
	if !e.Active && e.OnFrom == 0 {
		e.Since = start
	}
	e.describe(c)
	if !e.Active {
		e.Priority = e.Priority.Higher(e.asked(c))
	}
}

func (e *entry) describe(c Condition) {
	if c.HasValue && finite(c.Value) && finite(c.Limit) {
		e.worst(c)
		e.Value, e.Limit, e.Unit, e.HasValue = c.Value, c.Limit, c.Unit, true
	}
	if c.Active {
		e.Findings = c.Findings
	}
	if share := e.Findings.Coverage; share != nil && !finite(*share) {
		e.Findings.Coverage = nil
	}
}

// worst notes the worst value while the condition holds. It stays when the
// condition ends, for whoever then asks how bad it was.
func (e *entry) worst(c Condition) {
	switch {
	case !c.Active:
	case e.Raised == 0 && e.OnFrom == 0:
		e.Worst = c.Value
	case e.rule.Falling:
		e.Worst = min(e.Worst, c.Value)
	default:
		e.Worst = max(e.Worst, c.Value)
	}
}

// finite keeps out what JSON cannot write: a figure that is no number must
// not keep an alarm from being written down.
func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

func (e *entry) asked(c Condition) Priority {
	if c.Priority.Rank() < len(Priorities()) {
		return c.Priority
	}
	return e.rule.Priority
}

// Hold is what keeps a condition from becoming an alarm that asks for
// anybody.
type Hold struct {
	Event Event  `json:"event,omitempty"` // Suppress or TakeOut; empty: nothing keeps it
	Why   string `json:"why,omitempty"`
	Cause string `json:"cause,omitempty"` // id of the alarm it follows from
	By    string `json:"by,omitempty"`
}

func (h Hold) person() person { return person{name: h.By, why: h.Why, cause: h.Cause} }

// hold finds what keeps the condition back. Kinds that are highly managed
// are never kept back.
func (c *Condition) hold(b *Book, e *entry) Hold {
	if e.rule.HighlyManaged {
		return Hold{}
	}
	if m := b.entries[mark(c.Heater)]; m != nil && m.State == OutOfService {
		return Hold{Event: TakeOut, Why: m.Why, By: m.HeldBy}
	}
	if c.Under != nil {
		if cause := b.entries[*c.Under]; cause != nil && (cause.Active || cause.OnFrom != 0) {
			return Hold{Event: Suppress, Why: "follows from " + cause.ID, Cause: cause.ID}
		}
	}
	if c.Suppress != "" {
		return Hold{Event: Suppress, Why: c.Suppress}
	}
	return Hold{}
}

// raise makes the condition an alarm, or shows it held back.
func (b *Book) raise(e *entry, at reading.Instant) []Transition {
	h := e.Pending
	e.Active, e.Late = true, false
	e.OnFrom, e.OffFrom, e.Cleared, e.Pending = 0, 0, 0, Hold{}
	e.restless(max(at, e.Changed))
	if h.Event == "" {
		return b.move(e, Raise, at, person{})
	}
	return b.move(e, h.Event, at, h.person())
}

// regard brings an alarm that holds already in line with what keeps it back
// now, or no longer does.
func (b *Book) regard(e *entry, now reading.Instant, c Condition) []Transition {
	h := c.hold(b, e)
	switch {
	case h.Event == Suppress && e.State == Suppressed:
		e.Why, e.Cause = h.Why, h.Cause
		return nil
	case h.Event == Suppress:
		return b.move(e, Suppress, now, h.person())
	case h.Event == "" && e.State == Suppressed:
		return b.move(e, Unsuppress, now, person{why: "no longer so: " + e.Why})
	default:
		return nil
	}
}

// graver alarms again when the harm has come nearer than what people were
// told; shelving covers only what was known when it was done.
func (b *Book) graver(e *entry, now reading.Instant, c Condition) []Transition {
	asked := e.asked(c)
	if !asked.Outranks(e.Priority) {
		return nil
	}
	why := fmt.Sprintf("priority rose from %s to %s", e.Priority, asked)
	e.Priority = asked
	return b.move(e, AlarmAgain, now, person{why: why})
}

// gone takes in that the condition was measured not to hold.
func (b *Book) gone(now reading.Instant, c Condition) []Transition {
	e := b.entries[c.Key]
	b.touched[e] = struct{}{}
	if !e.Active {
		e.forget()
		return nil
	}
	e.describe(c)
	if e.inBand(c) {
		e.OffFrom = 0
		return nil
	}
	if e.OffFrom == 0 {
		e.OffFrom = now
	}
	b.expect(e)
	if now < e.OffFrom.Add(e.offDelay()) {
		return nil
	}
	return b.clear(e, now)
}

// remove ends what is about something that is there no more. No timer of it
// runs out before that, so that an on-delay raises nothing; and nobody can put
// back in service what is not there.
func (b *Book) remove(now reading.Instant, k Key) []Transition {
	e := b.entries[k]
	if e == nil {
		return nil
	}
	b.touched[e] = struct{}{}
	e.forget()
	var out []Transition
	if e.Active {
		out = b.clear(e, now)
	}
	if e.State == OutOfService {
		out = append(out, b.move(e, PutBack, now, person{why: "it is not there any more"})...)
	}
	return out
}

// forget ends an on-delay whose condition did not last.
func (e *entry) forget() {
	e.OnFrom, e.Pending = 0, Hold{}
	if e.Raised == 0 {
		e.Since, e.Priority = 0, ""
	}
}

// inBand reports whether the value is back past its limit, but by less than
// the dead-band.
func (e *entry) inBand(c Condition) bool {
	if !c.HasValue || e.rule.DeadBand <= 0 {
		return false
	}
	if e.rule.Falling {
		return c.Value < c.Limit+e.rule.DeadBand
	}
	return c.Value > c.Limit-e.rule.DeadBand
}

func (b *Book) clear(e *entry, at reading.Instant) []Transition {
	e.Active, e.OffFrom = false, 0
	e.Cleared = at
	if e.Chattering {
		e.Chattering, e.Recent = false, nil
	}
	return b.move(e, Clear, at, person{})
}
