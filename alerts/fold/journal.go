package fold

import (
	"slices"

	"heaterd/alerts/service"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// journal is what people wrote down of one heater lately, and what stood
// before, so that a wrong entry can be withdrawn as if it had never been
// written. It goes with the settled copy: an entry that is not settled is one
// of the marks, and is taken out there.
type journal struct {
	Notes  []note    // ascending by N
	Fills  []filling // of the tank, as folded, from the first that Notes has
	Before before
}

// before is what stood before the notes.
type before struct {
	Tasks    map[string]service.Mark // of the tasks that settled notes closed
	Deployed reading.Instant
	Visited  reading.Instant
	Fill     Fill
}

// note is an entry that may be withdrawn.
type note struct {
	N         int64           // of its mark
	Line      int64           // of the log; 0 outside one
	Written   reading.Instant // time of its line
	Task      string
	Further   []string
	Found     string
	Visit     reading.Instant // 0: nobody came to look at the heater
	Closed    []string        // tasks of the plan, once it is settled
	Done      service.Mark    // of those
	Deployed  reading.Instant // 0: it put the heater up nowhere
	Withdrawn bool
}

// mostNotes bounds the notes of one heater; beyond it the oldest cannot be
// withdrawn any more. Common practice, no source: nine entries a day, kept for
// record.WithdrawnWithin.
const mostNotes = 64

// note takes down an entry, before it changes anything.
func (h *heater) note(m mark, line int64, written reading.Instant) {
	j := &h.Journal
	if len(j.Notes) == 0 {
		j.Before = before{Deployed: h.Work.Deployed, Visited: h.Visited}
	}
	n := note{N: m.N, Line: line, Written: written, Task: m.Entry.Task, Further: m.Entry.Tasks, Found: m.Entry.Found}
	if m.Entry.Task != refuel && m.Entry.Task != readMeter {
		n.Visit = m.when()
	}
	j.Notes = append(j.Notes, n)
	j.forget(j.tooOld)
}

// tooOld never lets the notes be more than there is room for.
func (j *journal) tooOld(*note) bool { return len(j.Notes) > mostNotes }

// forgetNotes forgets what cannot be withdrawn any more.
func (h *heater) forgetNotes(now reading.Instant) {
	h.Journal.forget(func(n *note) bool { return now.Sub(n.Written) > record.WithdrawnWithin })
}

// forget takes the oldest notes to what stood before.
func (j *journal) forget(old func(*note) bool) {
	if len(j.Notes) == 0 || !old(&j.Notes[0]) {
		return
	}
	for len(j.Notes) > 0 && old(&j.Notes[0]) {
		if n := &j.Notes[0]; !n.Withdrawn {
			j.Before.take(n)
		}
		j.Notes = j.Notes[1:]
	}
	for len(j.Fills) > 0 && !j.notes(j.Fills[0].N) {
		j.Before.Fill = j.Fills[0].onto(j.Before.Fill)
		j.Fills = j.Fills[1:]
	}
	if len(j.Notes) == 0 {
		*j = journal{}
	}
}

func (b *before) take(n *note) {
	for _, t := range n.Closed {
		b.Tasks[t] = service.Later(b.Tasks[t], n.Done)
	}
	b.Deployed, b.Visited = max(b.Deployed, n.Deployed), max(b.Visited, n.Visit)
}

func (j *journal) notes(n int64) bool { return j.of(n) != nil }

// of gives the note of a mark; nil where there is none.
func (j *journal) of(n int64) *note {
	i := slices.IndexFunc(j.Notes, func(x note) bool { return x.N == n })
	if i < 0 {
		return nil
	}
	return &j.Notes[i]
}

// expect keeps how the tasks stood that a mark is about to close.
func (h *heater) expect(m mark) {
	j := &h.Journal
	if !j.notes(m.N) {
		return
	}
	for _, t := range closes(m.Entry) {
		i := h.rules.Plan.Index(t)
		if _, kept := j.Before.Tasks[t]; i < 0 || kept {
			continue
		}
		if j.Before.Tasks == nil {
			j.Before.Tasks = map[string]service.Mark{}
		}
		j.Before.Tasks[t] = h.Work.Last[i]
	}
}

// closed takes down what a mark closed, and where it put the heater up. One
// that nobody can withdraw counts with what stood before.
func (j *journal) closed(p service.Plan, m mark, done service.Mark, deployed reading.Instant) {
	n := j.of(m.N)
	if n == nil {
		n = &note{}
		defer j.Before.take(n)
	}
	for _, t := range closes(m.Entry) {
		if _, kept := j.Before.Tasks[t]; kept && p.Index(t) >= 0 {
			n.Closed = append(n.Closed, t)
		}
	}
	n.Done, n.Deployed = done, deployed
}

// restamp changes the hours of everything that tells of work.
func (j *journal) restamp(change func(*service.Mark)) {
	for t, m := range j.Before.Tasks {
		change(&m)
		j.Before.Tasks[t] = m
	}
	for i := range j.Notes {
		change(&j.Notes[i].Done)
	}
}

// stands gives when a task was done by what was not withdrawn.
func (j *journal) stands(task string) service.Mark {
	out := j.Before.Tasks[task]
	for i := range j.Notes {
		if n := &j.Notes[i]; !n.Withdrawn && slices.Contains(n.Closed, task) {
			out = service.Later(out, n.Done)
		}
	}
	return out
}

// latest gives the last deployment and the last visit by what was not
// withdrawn.
func (j *journal) latest() (deployed, visited reading.Instant) {
	deployed, visited = j.Before.Deployed, j.Before.Visited
	for i := range j.Notes {
		if n := &j.Notes[i]; !n.Withdrawn {
			deployed, visited = max(deployed, n.Deployed), max(visited, n.Visit)
		}
	}
	return deployed, visited
}
