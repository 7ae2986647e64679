package notify_test

import (
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
