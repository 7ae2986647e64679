package notify

import (
	"cmp"
	"slices"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/ledger"
)

// line is what waits for one channel, in memory.
type line struct {
	busy  int // messages on their way
	room  int // and how many may be
	queue []waiting
}

// waiting is a claimed message; until is the end of the claim.
type waiting struct {
	job      ledger.Job
	until    time.Time
	priority alarm.Priority
}

// add queues a message. Where there is no room, the least pressing gives way;
// it comes up again when its claim ends.
func (l *line) add(w waiting) {
	if m, err := ReadMessage(w.job.Body); err == nil {
		w.priority = m.Priority
	}
	l.queue = append(l.queue, w)
	if len(l.queue) > longest {
		l.sort()
		l.queue = l.queue[:longest]
	}
}

// sort puts the most pressing first, those alike in the order they came.
func (l *line) sort() {
	slices.SortStableFunc(l.queue, func(a, b waiting) int {
		return cmp.Compare(a.priority.Rank(), b.priority.Rank())
	})
}

// take gives the most pressing message whose claim lasts for an attempt.
// The others come up again by themselves.
func (l *line) take(now time.Time) (ledger.Job, bool) {
	l.queue = slices.DeleteFunc(l.queue, func(w waiting) bool { return now.Add(attempt).After(w.until) })
	if len(l.queue) == 0 {
		return ledger.Job{}, false
	}
	l.sort()
	first := l.queue[0]
	l.queue = l.queue[1:]
	return first.job, true
}
