package fold

import (
	"fmt"
	"slices"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// Withdrawn is an entry that was withdrawn, by the line of the log it came in;
// 0 outside one.
type Withdrawn struct {
	Line int64
	record.Withdrawal
}

// withdraw takes an entry back as if it had never been written, but for a
// reading of the hour meter, which stands until the right one is written, and
// for burns that are final.
func (e *Engine) withdraw(d record.Withdrawal) {
	h := e.byID[d.Heater]
	if h == nil {
		e.refuse("no heater %q is configured; the withdrawal was kept in the log only", d.Heater)
		return
	}
	n, err := h.Journal.find(d, e.now)
	if err != nil {
		e.effects.Errors = append(e.effects.Errors, err)
		return
	}
	h.takeBack(n)
	h.renew(e.now)
	e.effects.Withdrawn = append(e.effects.Withdrawn, Withdrawn{n.Line, d})
	e.lookAtFuel(h)
	e.lookAtWork(h)
}

// find gives the note that a withdrawal names, or why there is none.
func (j *journal) find(d record.Withdrawal, now reading.Instant) (*note, error) {
	var found *note
	for i := range j.Notes {
		n := &j.Notes[i]
		if n.Task == d.Task && n.Written == d.At && (found == nil || !n.Withdrawn) {
			found = n
		}
	}
	var further []string
	if found != nil {
		further = found.Further
	}
	if why := record.Refusal(d.Task, further, d.At, now); why != "" {
		return nil, fmt.Errorf("the entry %q of heater %q stays: %s", d.Task, d.Heater, why)
	}
	switch {
	case found == nil:
		return nil, fmt.Errorf("heater %q has no entry %q of %s: name the heater, the task and the time at which the entry was written down", d.Heater, d.Task, d.At)
	case found.Withdrawn:
		return nil, fmt.Errorf("the entry %q of heater %q of %s was withdrawn before", d.Task, d.Heater, d.At)
	}
	return found, nil
}

// takeBack undoes what an entry did.
func (h *heater) takeBack(n *note) {
	n.Withdrawn = true
	if n.Found != "" {
		if h.Fixes[n.Found]--; h.Fixes[n.Found] <= 0 {
			delete(h.Fixes, n.Found)
		}
	}
	if n.N <= h.Settled.Marked {
		h.reopen(n)
		h.unfill(n.N)
		h.Settled.doubtAgain(n.N)
	}
	_, h.Visited = h.Journal.latest()
	h.strike(n.N)
	h.soft = nil
}

// reopen gives the tasks back the marks that stood before.
func (h *heater) reopen(n *note) {
	for _, t := range n.Closed {
		m := h.Journal.stands(t)
		switch i := h.rules.Plan.Index(t); {
		case i >= 0:
			h.Work.Last[i] = m
		case m.At == 0:
			delete(h.Shelf, t)
		case h.Shelf != nil:
			h.Shelf[t] = m
		}
	}
	h.Work.Deployed, _ = h.Journal.latest()
}

// strike takes a mark out of those that wait; the hour meter stays as it was
// read.
func (h *heater) strike(n int64) {
	i := slices.IndexFunc(h.Marks, func(m mark) bool { return m.N == n })
	if i < 0 {
		return
	}
	if en := h.Marks[i].Entry; en.MeterH != nil {
		h.Marks[i].Entry = record.Entry{Heater: en.Heater, Task: readMeter, MeterH: en.MeterH, Done: en.Done}
		return
	}
	h.Marks = slices.Delete(h.Marks, i, i+1)
}
