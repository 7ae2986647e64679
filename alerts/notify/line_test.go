package notify

import (
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/ledger"
)

// A long line of small things before a slow channel hides nothing urgent.
func TestABacklogHidesNothingUrgent(t *testing.T) {
	now := time.Date(2026, 1, 12, 3, 0, 0, 0, time.UTC)
	var l line
	add := func(id string, p alarm.Priority) {
		l.add(waiting{job: ledger.Job{ID: id, Body: mustJSON(Message{Priority: p})}, until: now.Add(lease)})
	}
	for range longest + 10 {
		add("small", alarm.Low)
	}
	add("ceiling", alarm.Critical)
	add("small", alarm.Low)
	if j, ok := l.take(now); !ok || j.ID != "ceiling" || len(l.queue) != longest-1 {
		t.Errorf("%q comes first, %d wait", j.ID, len(l.queue))
	}
}
