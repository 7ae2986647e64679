package notify_test

import (
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/notify"
)

func acknowledgedBy(t alarm.Transition, after time.Duration, who string) alarm.Transition {
	t = acknowledge(t, after)
	t.By = who
	return t
}

// TestWhoElseWasToldHearsWhoSeesToIt: al was woken ten minutes after jo, who
// acknowledges then; without a word both of them drive there.
func TestWhoElseWasToldHearsWhoSeesToIt(t *testing.T) {
	for _, by := range []string{"jo", "Jo"} { // by the link, and as written on a page
		inOffice(t, people(), duty{"jo", "al"}, func(o *office, start time.Time) {
			up := raise(alarm.FlameNotHolding, alarm.High, start)
			o.commit(up)
			wait(11 * time.Minute)
			o.commit(acknowledgedBy(up, 11*time.Minute, by))
			wait(2 * time.Hour)
			o.expect(start, "0s raised jo>letters", "10m0s raised al>letters", "11m30s acknowledged al>letters")
			last := o.log.arrivals()[2]
			if !strings.HasSuffix(last.Short, "Jo has acknowledged.") || !strings.Contains(last.Text, "Jo has acknowledged this and sees to it.") || !strings.HasSuffix(last.Subject, "; Jo has acknowledged") || last.Answer != "" {
				t.Errorf("al reads %q and %s", last.Short, last.Text)
			}
		})
	}
}

// TestWhoElseWasToldHearsThatItIsShelved: al, woken after jo, would drive to a
// heater that jo has set aside until the morning.
func TestWhoElseWasToldHearsThatItIsShelved(t *testing.T) {
	for _, from := range []alarm.State{alarm.Unacknowledged, alarm.Acknowledged} {
		inOffice(t, people(), duty{"jo", "al"}, func(o *office, start time.Time) {
			up := raise(alarm.FlameNotHolding, alarm.High, start)
			o.commit(up)
			wait(11 * time.Minute)
			shelved := acknowledgedBy(up, 11*time.Minute, "jo")
			shelved.Event, shelved.From, shelved.To, shelved.Alarm.State = alarm.Shelve, from, alarm.Shelved, alarm.Shelved
			shelved.Alarm.ShelvedUntil = shelved.At.Add(8 * time.Hour)
			o.commit(shelved)
			wait(2 * time.Hour)
			o.expect(start, "0s raised jo>letters", "10m0s raised al>letters", "11m30s shelved al>letters")
			last := o.log.arrivals()[2]
			if !strings.Contains(last.Short, "Jo has shelved it until ") || !strings.Contains(last.Text, "Jo has shelved this: ") || !strings.Contains(last.Subject, "; Jo has shelved it until ") || last.Answer != "" {
				t.Errorf("al reads %q, %q and %s", last.Short, last.Subject, last.Text)
			}
		})
	}
}

// TestNobodyHearsOfATakingThatIsOver: what ended meanwhile is told as ended.
func TestNobodyHearsOfATakingThatIsOver(t *testing.T) {
	inOffice(t, people(), duty{"jo", "al"}, func(o *office, start time.Time) {
		up := raise(alarm.FlameNotHolding, alarm.High, start)
		o.commit(up)
		wait(11 * time.Minute)
		acked := acknowledgedBy(up, 11*time.Minute, "jo")
		o.commit(acked)
		wait(time.Second)
		down := clearing(acked, time.Second)
		down.From, down.To, down.Alarm.State = alarm.Acknowledged, alarm.Normal, alarm.Normal
		o.commit(down)
		wait(2 * time.Hour)
		for _, a := range o.log.arrivals() {
			if a.Kind == notify.Taken {
				t.Errorf("%s is told of what is over: %s", a.Person, a.Short)
			}
		}
	})
}

// TestTheSitesContactsAreLeftToTheProcedure: that a technician has acknowledged
// is no news for the people there, and in every text the procedure is first.
func TestTheSitesContactsAreLeftToTheProcedure(t *testing.T) {
	inOffice(t, people(), duty{"jo", "al"}, func(o *office, start time.Time) {
		up := raise(alarm.COCeiling, alarm.Critical, start)
		o.commit(up)
		wait(11 * time.Minute)
		o.commit(acknowledgedBy(up, 11*time.Minute, "jo"))
		wait(2 * time.Hour)
		told := 0
		for _, a := range o.log.arrivals() {
			if a.Kind != notify.Taken {
				continue
			}
			told++
			if a.Person != "al" || !strings.HasPrefix(a.Short, "1 Site procedure. 2 People out, fresh air.") || !strings.HasPrefix(a.Text, "1. The site's procedure") {
				t.Errorf("%s reads %q and %s", a.Person, a.Short, a.Text)
			}
		}
		if told != 1 {
			t.Errorf("%d are told that jo has acknowledged, want al alone", told)
		}
	})
}
