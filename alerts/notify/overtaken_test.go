package notify_test

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/ledger"
	"heaterd/alerts/notify"
)

// While the daemon stood still every step fell due. Each person hears once, and
// not of every step the same.
func TestStepsThatFellDueInAStopTellEachPersonOnce(t *testing.T) {
	inOffice(t, people(), duty{"jo", "al"}, func(o *office, start time.Time) {
		o.stop()
		up := raise(alarm.FlameNotHolding, alarm.High, start)
		o.commit(up)
		time.Sleep(3 * time.Hour)
		o.open(people(), o.ledger)
		wait(10 * time.Minute)
		got := o.log.listing(start.Add(3 * time.Hour))
		slices.Sort(got)
		if want := []string{"0s raised al>letters", "0s raised jo>letters", "0s raised mo>letters", "0s raised mo>phones"}; !slices.Equal(got, want) {
			t.Errorf("got %q", got)
		}
		for _, a := range o.log.arrivals() {
			if strings.Contains(a.Text, "got through") {
				t.Errorf("%s reads that somebody was out of reach: %s", a.Person, a.Text)
			}
		}
		jobs, _ := o.ledger.JobsOf(o.t.Context(), up.Alarm.ID)
		for _, j := range jobs { // a message given up is an alarm to whoever watches the daemon
			if j.State == ledger.Dead || j.LastError != "" {
				t.Errorf("%s is %s: %s", j.ID, j.State, j.LastError)
			}
		}
	})
}

// Steps that lie no more than a minute apart each have their time: none is given
// up for one that is still to come.
func TestStepsCloseTogetherAllTell(t *testing.T) {
	s := people()
	s.Steps = []notify.Step{{Who: "on-call"}, {After: 90 * time.Second, Who: "next"}, {After: 2 * time.Minute, Who: "everyone"}}
	inOffice(t, s, duty{"jo", "al"}, func(o *office, start time.Time) {
		o.commit(raise(alarm.FlameNotHolding, alarm.High, start))
		wait(5 * time.Minute)
		got := o.log.listing(start)
		for _, want := range []string{"1m30s raised al>letters", "2m0s raised al>letters"} {
			if !slices.Contains(got, want) {
				t.Errorf("%q is not among %q", want, got)
			}
		}
	})
}

// A channel that was down is up again: each person reads the alarm once by it,
// not once for every step of the time.
func TestAnOutageLeavesOneMessageForEachPerson(t *testing.T) {
	inOffice(t, people(), duty{"jo", "al"}, func(o *office, start time.Time) {
		o.log.answers(func(notify.Message) error {
			if time.Since(start) < time.Hour {
				return errors.New("no answer")
			}
			return nil
		})
		o.commit(raise(alarm.COCeiling, alarm.Critical, start))
		wait(80 * time.Minute)
		got := map[string]int{}
		for _, a := range o.log.arrivals() {
			if a.Kind == notify.Raised && a.at.Sub(start) >= time.Hour && a.at.Sub(start) < 79*time.Minute {
				got[a.Person+">"+a.Channel]++
			}
		}
		for _, one := range []string{"jo>letters", "al>letters", "mo>letters", "mo>phones"} {
			if got[one] != 1 {
				t.Errorf("%s: %d messages of %v", one, got[one], got)
			}
		}
	})
}

// Where nobody answers, the last step is not the end of it while air is
// critical; an answer is.
func TestCriticalAirIsToldUntilSomebodyAnswers(t *testing.T) {
	inOffice(t, people(), duty{"jo", "al"}, func(o *office, start time.Time) {
		up := raise(alarm.COCeiling, alarm.Critical, start)
		o.commit(up)
		wait(90 * time.Minute)
		o.commit(acknowledge(up, 90*time.Minute))
		wait(6 * time.Hour)
		var got []string
		for _, one := range o.log.listing(start) {
			if strings.HasSuffix(one, "raised al>letters") {
				got = append(got, strings.Fields(one)[0])
			}
		}
		slices.Sort(got)
		if want := []string{"10m0s", "1h20m0s", "20m0s", "35m0s", "50m0s"}; !slices.Equal(got, want) {
			t.Errorf("Al is told at %q, want %q", got, want)
		}
	})
}
