package notify_test

import (
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/notify"
	"heaterd/ingest/reading"
)

// The steps of an alarm were planned before a channel was renamed and a person
// left: whoever is there is told by what there is, once, and whoever left is
// not.
func TestTheRestIsToldByTheConfigurationOfNow(t *testing.T) {
	inOffice(t, people(), duty{"jo", "al"}, func(o *office, start time.Time) {
		o.commit(raise(alarm.FlameNotHolding, alarm.High, start))
		wait(5 * time.Minute)
		o.stop()
		s := people()
		s.Channels[0].ID, s.Fallback = "post", "jo"
		s.People = s.People[:2]
		s.People[0].Channels, s.People[1].Channels = []string{"phones", "post"}, []string{"post"}
		o.planner = notify.New(s, yard(), duty{"jo", "mo"})
		o.open(s, o.ledger)
		wait(time.Hour)
		o.expect(start, "0s raised jo>letters", "10m0s raised jo>post", "20m0s raised jo>post", "20m0s raised mo>phones", "20m0s raised mo>post")
	})
}

// What waits for somebody who left, and is not about what stands, goes nowhere.
func TestWhoLeftIsToldNothing(t *testing.T) {
	inOffice(t, people(), duty{"mo", "al"}, func(o *office, start time.Time) {
		o.commit(raise(alarm.RuntimeJump, alarm.Low, start))
		o.stop()
		s := people()
		s.People = s.People[1:]
		o.planner = notify.New(s, yard(), duty{"jo", "al"})
		o.open(s, o.ledger)
		wait(24 * time.Hour)
		o.expect(start)
	})
}

// handOver changes who is on call at six in the morning.
type handOver struct{ duty }

func (d handOver) OnCall(at time.Time) (string, bool) {
	if at.UTC().Hour() < 6 {
		return "al", true
	}
	return d.duty.OnCall(at)
}

func TestTheMorningMessageGoesToWhoIsOnCallThen(t *testing.T) {
	for _, j := range notify.New(people(), yard(), handOver{duty{"jo", "mo"}}).Plan(raise(alarm.RuntimeJump, alarm.Low, six.Add(-4*time.Hour))) {
		if m := body(t, j); m.Kind == notify.Digest && (m.Person != "jo" || j.NextAttempt != reading.InstantOf(six.Add(time.Hour))) {
			t.Errorf("%s has it at %s", m.Person, j.NextAttempt)
		}
	}
}

// A text channel that asks for a number is nobody's without one.
func TestATextWithoutANumberIsNotSent(t *testing.T) {
	s := crew()
	for i := range s.People {
		s.People[i].Channels = []string{"letters"}
	}
	for _, j := range notify.New(s, yard(), duty{"jo", "mo"}).Plan(raise(alarm.COCeiling, alarm.Critical, six)) {
		if m := body(t, j); m.Channel == "phones" && m.Address == "" {
			t.Errorf("%s goes to nobody's number", m.Kind)
		}
	}
}
