package alarm

import (
	"testing"
	"time"
)

var allEvents = []Event{
	Raise, Clear, Acknowledge, Reset, Shelve, Unshelve, Expire,
	Suppress, Unsuppress, TakeOut, PutBack, AlarmAgain, LateEvidence,
}

func TestTableIsComplete(t *testing.T) {
	for _, s := range States() {
		for _, ev := range allEvents {
			if life[s][ev] == unlisted {
				t.Errorf("no cell for %s in %s", ev, s)
			}
		}
		if len(life[s]) != len(allEvents) {
			t.Errorf("%s has %d cells, want %d", s, len(life[s]), len(allEvents))
		}
	}
	if len(life) != len(States()) {
		t.Errorf("%d rows, want %d", len(life), len(States()))
	}
}

// The transitions of ISA-18.2 as the literature tells them, for a plain kind
// and for a latching one. The latched states are from memory.
func TestPublishedTransitions(t *testing.T) {
	cases := []struct {
		from          State
		ev            Event
		active, acked bool
		plain, latch  State
	}{
		{Normal, Raise, true, false, Unacknowledged, Unacknowledged},
		{Unacknowledged, Acknowledge, true, false, Acknowledged, Acknowledged},
		{Acknowledged, Clear, false, true, Normal, Latched},
		{Unacknowledged, Clear, false, false, Returned, Latched},
		{Returned, Acknowledge, false, false, Normal, Normal},
		{Returned, Raise, true, false, Unacknowledged, Unacknowledged},
		{Latched, Reset, false, true, Normal, Normal},
		{Latched, Acknowledge, false, false, Latched, Latched},
		{Latched, Raise, true, true, Unacknowledged, Unacknowledged},
		{Acknowledged, AlarmAgain, true, true, Unacknowledged, Unacknowledged},
		{Unacknowledged, Shelve, true, false, Shelved, Shelved},
		{Shelved, Expire, true, false, Unacknowledged, Unacknowledged},
		{Shelved, Unshelve, false, false, Normal, Latched},
		{Unacknowledged, Suppress, true, false, Suppressed, Suppressed},
		{Suppressed, Unsuppress, true, false, Unacknowledged, Unacknowledged},
		{Suppressed, Clear, false, false, Normal, Latched},
		{Acknowledged, TakeOut, true, true, OutOfService, OutOfService},
		{OutOfService, PutBack, true, false, Unacknowledged, Unacknowledged},
		{OutOfService, PutBack, false, false, Normal, Latched},
	}
	for _, c := range cases {
		a := Alarm{State: c.from, Active: c.active, Acked: c.acked}
		plain, latch := life[c.from][c.ev].goal(&a, false), life[c.from][c.ev].goal(&a, true)
		t.Logf("ISA-18.2 %s + %s: expected %s (latching %s), got %s (%s)", c.from, c.ev, c.plain, c.latch, plain, latch)
		if plain != c.plain || latch != c.latch {
			t.Errorf("%s + %s: got %s and %s, want %s and %s", c.from, c.ev, plain, latch, c.plain, c.latch)
		}
	}
}

func TestEveryKindHasARule(t *testing.T) {
	rules := Rules()
	kinds := Kinds()
	if len(rules) != len(kinds) {
		t.Fatalf("%d rules for %d kinds", len(rules), len(kinds))
	}
	for i, r := range rules {
		switch {
		case r.Kind != kinds[i]:
			t.Errorf("rule %d is of %s, want %s", i, r.Kind, kinds[i])
		case r.Source == "" || r.Consequence == "" || r.Priority.Rank() > 3:
			t.Errorf("%s lacks a source, a consequence or a priority", r.Kind)
		case r.Kind.ConcernsPeople() && (!r.HighlyManaged || r.OnDelay != 0 || r.Chatter.Count != 0 || r.ReAlarm == 0):
			t.Errorf("%s concerns people and could be silenced or delayed", r.Kind)
		case r.HighlyManaged && r.MaxShelve != 0:
			t.Errorf("%s is highly managed and has a shelving time", r.Kind)
		}
	}
}

func TestPriorityFollowsTimeToHarm(t *testing.T) {
	cases := []struct {
		kind Kind
		harm time.Duration
		what Consequence
		want Priority
	}{
		{COCeiling, Unknown, "", Critical},
		{COCeiling, 9 * time.Hour, People, Critical},
		{COShift, 10 * time.Minute, "", Critical},
		{COShift, 5 * time.Hour, "", High},
		{ShutdownUnexplained, 2 * time.Hour, Property, High},
		{ShutdownUnexplained, 6 * time.Hour, Property, Medium},
		{ShutdownUnexplained, 40 * time.Hour, Property, Low},
		{ShutdownUnexplained, Unknown, Property, Medium},
		{SpaceCold, 0, "", Critical},
		{FuelLow, 30 * time.Minute, "", High},
		{ServiceDue, 20 * time.Hour, Records, Low},
	}
	for _, c := range cases {
		if got := PriorityOf(c.kind, c.harm, c.what); got != c.want {
			t.Errorf("PriorityOf(%s, %s, %q) = %s, want %s", c.kind, c.harm, c.what, got, c.want)
		}
	}
	freezing := PriorityOf(ShutdownUnexplained, 90*time.Minute, Property)
	warm := PriorityOf(ShutdownUnexplained, 100*time.Hour, Property)
	if !freezing.Outranks(warm) {
		t.Errorf("a stop where it freezes in 90 min (%s) does not outrank one in a warm store (%s)", freezing, warm)
	}
}
