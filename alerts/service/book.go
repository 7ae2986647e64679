package service

import "heaterd/ingest/reading"

// Hours is an hour meter with the bounds that hold whatever happened while
// nobody saw, h: Low ≤ Est ≤ High. It counts from the heater's first day, so
// it includes the hours the heater had when the node was fitted.
type Hours struct {
	Est, Low, High float64
}

// Mark is when a task was last done and what the hour meter was then. The
// zero value is never.
type Mark struct {
	At    reading.Instant
	Hours float64 // best estimate, h
	Under float32 // how far below the low bound lies, h
	Over  float32 // how far above the high bound lies, h
}

// Book is what one heater's service log comes to: when it was first seen,
// last deployed, and when each task was last done. It belongs to one plan:
// Last is in the order of the plan's tasks. It is a value; copying it copies
// everything.
type Book struct {
	Since      reading.Instant // first sight
	StartHours float64         // hour meter at first sight, h
	Swapped    float64         // h of that, below zero, for another meter that was fitted since and reads less
	Deployed   reading.Instant // latest known deployment; 0 none known
	Last       [MaxTasks]Mark
}

// Begin says when the heater was first seen and its hour meter then, h. The
// earliest word stands.
func (b *Book) Begin(at reading.Instant, hours float64) {
	if b.Since == 0 || at < b.Since {
		b.Since, b.StartHours = at, hours
	}
}

// Deploy says that the heater was put up at a new place, or taken into use
// after standing. The latest word stands.
func (b *Book) Deploy(at reading.Instant) { b.Deployed = max(b.Deployed, at) }

// MarkOf marks work done at an instant, with the hour meter at that moment.
func MarkOf(at reading.Instant, h Hours) Mark {
	return Mark{At: at, Hours: h.Est, Under: float32(h.Est - h.Low), Over: float32(h.High - h.Est)}
}

// Done says that work was done, with the hour meter at that moment. Neither
// order nor repetition of entries shows: the latest stands. It reports the
// ids the plan does not know.
func (b *Book) Done(p Plan, at reading.Instant, h Hours, ids ...string) (unknown []string) {
	m := MarkOf(at, h)
	for _, id := range ids {
		if i := p.Index(id); i >= 0 && i < MaxTasks {
			b.Last[i] = Later(b.Last[i], m)
		} else {
			unknown = append(unknown, id)
		}
	}
	return unknown
}

// Reframe takes another word of the hours at first sight: so many more, h,
// there and wherever they were counted on.
func (b *Book) Reframe(more float64) {
	b.StartHours += more
	for i := range b.Last {
		b.Last[i].Reframe(more)
	}
}

// Reframe takes another word of the hours that were counted on, so many more, h.
func (m *Mark) Reframe(more float64) {
	if m.At != 0 {
		m.Hours += more
	}
}

// Rebase says that the hour meter was read and stands lower than it was
// thought to, by -step h: another meter was fitted, or a reading before was a
// slip. Work that would lie ahead of it keeps its distance.
func (b *Book) Rebase(read, step float64) {
	if step >= 0 {
		return
	}
	if b.StartHours > read {
		b.StartHours += step
		if b.StartHours < 0 {
			b.Swapped += step
		}
	}
	for i := range b.Last {
		b.Last[i].Rebase(read, step)
	}
}

// Rebase moves work that would lie ahead of the hour meter as it was read, h,
// by step, h below zero; another step changes nothing.
func (m *Mark) Rebase(read, step float64) {
	if step < 0 && m.At != 0 && m.Hours > read {
		m.Hours += step
	}
}

// Later keeps the mark of later date; of two at one instant, the one with
// fewer hours, which falls due sooner.
func Later(a, b Mark) Mark {
	if a.At > b.At || a.At == b.At && a.Hours <= b.Hours {
		return a
	}
	return b
}

// Reorder gives the book for another plan: marks follow the task ids, those
// of tasks the new plan lacks are dropped.
func (b Book) Reorder(from, to Plan) Book {
	n := b
	n.Last = [MaxTasks]Mark{}
	for i, t := range to.Tasks[:min(len(to.Tasks), MaxTasks)] {
		if j := from.Index(t.ID); j >= 0 && j < MaxTasks {
			n.Last[i] = b.Last[j]
		}
	}
	return n
}
