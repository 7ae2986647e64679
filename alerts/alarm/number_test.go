package alarm

import (
	"testing"
	"time"

	"heaterd/ingest/record"
)

func TestIDs(t *testing.T) {
	cases := map[string]Key{
		"H-07.shutdown-unexplained.1":    {Kind: ShutdownUnexplained, Site: "quay", Space: "hall", Heater: "H-07"},
		"quay.hall.co-ceiling.1":         {Kind: COCeiling, Site: "quay", Space: "hall"},
		"n-07.node-clock.1":              {Kind: NodeClock, Site: "quay", Node: "n-07"},
		"H-07.service-due.filter.1":      {Kind: ServiceDue, Heater: "H-07", Detail: "filter"},
		"heaterd.store-unavailable.1":    {Kind: StoreUnavailable},
		"H~2E7~20~C3~BC.fuel-low.1":      {Kind: FuelLow, Heater: "H.7 ü"},
		"heaterd.channel-down.sms~2F1.1": {Kind: ChannelDown, Detail: "sms/1"},
	}
	for want, k := range cases {
		b := NewBook(Rules())
		b.Observe(zero, Condition{Key: k, Active: true})
		if a, ok := b.Get(k); !ok || a.ID != want {
			t.Errorf("%+v has id %q, want %q", k, a.ID, want)
		}
	}
}

func TestOneStemOneCount(t *testing.T) {
	b := NewBook(Rules())
	k := Key{Kind: ShutdownUnexplained, Site: "quay", Heater: "H-07"}
	moved := k
	moved.Site = "mill"
	b.Observe(zero, Condition{Key: k, Active: true})
	b.Observe(zero, Condition{Key: moved, Active: true})
	x, _ := b.Get(k)
	y, _ := again(t, b).Get(moved)
	if x.ID == y.ID {
		t.Errorf("two keys share the id %s", x.ID)
	}
}

// Acknowledging what returned, while the condition's next on-delay runs, ends
// one occurrence; the next is another, and begins when the condition did.
func TestNextOccurrenceAcrossAnAcknowledgement(t *testing.T) {
	for _, next := range []time.Duration{20*time.Minute + 30*time.Second, 40 * time.Minute} {
		s := tell(t)
		s.see(0, cold(4))
		s.see(2*time.Minute, cold(9))
		s.see(7*time.Minute, cold(9))
		s.see(20*time.Minute, cold(4))
		s.must(20*time.Minute+10*time.Second, ack("quay.hall.space-cold.1"))
		s.b = again(t, s.b)
		s.see(next, cold(4))
		s.tick(time.Hour)
		s.want(
			"1m0s quay.hall.space-cold.1 normal>unacknowledged",
			"7m0s quay.hall.space-cold.1 unacknowledged>returned",
			"20m10s quay.hall.space-cold.1 returned>normal",
			"21m0s quay.hall.space-cold.2 normal>unacknowledged",
		)
		if a, _ := s.b.Get(cold(4).Key); a.Since != at(20*time.Minute) {
			t.Errorf("the second occurrence began %s, want 20m", a.Since.Sub(zero))
		}
	}
}

func TestNumbersGoOnAfterRestore(t *testing.T) {
	b := NewBook(Rules())
	b.Observe(zero, stop(true))
	b = again(t, b)
	moved := stop(true)
	moved.Site = "mill"
	ts := b.Observe(at(time.Minute), moved)
	if len(ts) != 1 || ts[0].Alarm.ID != "H-07.shutdown-unexplained.2" {
		t.Errorf("after a restart: %+v", ts)
	}
}

// Nobody takes an alarm out of service that is over, though its place in the
// book waits for the next.
func TestWhatIsOverStaysOver(t *testing.T) {
	s := tell(t)
	s.see(0, stop(true))
	const id = "H-07.shutdown-unexplained.1"
	s.must(time.Minute, ack(id))
	s.see(2*time.Minute, stop(false))
	s.want("0s "+id+" normal>unacknowledged", "1m0s "+id+" unacknowledged>acknowledged", "2m0s "+id+" acknowledged>normal")
	refused(t, s.do(3*time.Minute, record.Answer{Act: record.OutOfService, Alarm: id, By: "x", Role: Technician, Why: "y"}), NotNow, "it is over")
}
