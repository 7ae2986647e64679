package notify_test

import (
	"errors"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/notify"
	"heaterd/ingest/reading"
)

// again is a condition that holds again: in the occurrence that cleared, or,
// where that was over, in the next.
func again(t alarm.Transition, after time.Duration) alarm.Transition {
	t.At = t.At.Add(after)
	t.From, t.To, t.Event = t.To, alarm.Unacknowledged, alarm.Raise
	t.Alarm.State, t.Alarm.Active, t.Alarm.Seq, t.Alarm.Cleared = alarm.Unacknowledged, true, t.Alarm.Seq+1, 0
	if t.From == alarm.Normal {
		t.Alarm.N, t.Alarm.Seq = 2, 1
		t.Alarm.ID = strings.TrimSuffix(t.Alarm.ID, "1") + "2"
	}
	return t
}

// mo's quiet hours hold the end back until 07:00 UTC; by then it stands again.
func TestNoEndIsToldOfWhatStandsAgain(t *testing.T) {
	for name, answered := range map[string]bool{"the same occurrence": false, "the next": true} {
		t.Run(name, func(t *testing.T) {
			inOffice(t, people(), duty{"mo", "mo"}, func(o *office, start time.Time) {
				last := raise(alarm.FlameNotHolding, alarm.High, start)
				o.commit(last)
				wait(5 * time.Minute)
				if answered {
					last = acknowledge(last, 4*time.Minute)
					o.commit(last)
				}
				down := clearing(last, reading.InstantOf(time.Now()).Sub(last.At))
				if down.From = last.To; answered {
					down.To, down.Alarm.State = alarm.Normal, alarm.Normal
				}
				o.commit(down)
				wait(5 * time.Minute)
				up := again(down, 5*time.Minute)
				o.commit(up)
				wait(time.Minute)
				o.commit(acknowledge(up, time.Minute))
				wait(12 * time.Hour)
				for _, a := range o.log.arrivals() {
					if a.Kind == notify.Ended {
						t.Errorf("%s was told %v after the start: %s", a.Person, a.at.Sub(start), a.Short)
					}
				}
			})
		})
	}
}

// A receiver that was down must not be left with an end as the last word about
// what stands.
func TestNoEndOvertakesANewBeginning(t *testing.T) {
	s := notify.Settings{Channels: []notify.Channel{{ID: "log", Kind: notify.Webhook}}}
	inOffice(t, s, nil, func(o *office, start time.Time) {
		o.log.answers(func(m notify.Message) error {
			if time.Since(start) < 10*time.Minute && m.Kind == notify.Ended {
				return errors.New("no answer")
			}
			return nil
		})
		up := raise(alarm.COCeiling, alarm.Critical, start)
		o.commit(up)
		wait(time.Minute)
		down := clearing(up, time.Minute)
		down.To, down.Alarm.State = alarm.Latched, alarm.Latched
		o.commit(down)
		wait(time.Minute)
		o.commit(again(down, time.Minute))
		wait(time.Hour)
		o.expect(start, "0s raised >log", "2m0s raised >log")
	})
}

// Whoever reads that it ended is asked to acknowledge, and has a link for that;
// of what was acknowledged before there is nothing to answer.
func TestAnEndThatAsksForAnAnswerHasALink(t *testing.T) {
	for name, answered := range map[string]bool{"open": false, "answered": true} {
		t.Run(name, func(t *testing.T) {
			inOffice(t, people(), duty{"jo", "jo"}, func(o *office, start time.Time) {
				up := raise(alarm.FlameNotHolding, alarm.High, start)
				o.commit(up)
				wait(2 * time.Minute)
				down := clearing(up, 2*time.Minute)
				if answered {
					down.From, down.To, down.Alarm.State = alarm.Acknowledged, alarm.Normal, alarm.Normal
				}
				o.commit(down)
				wait(5 * time.Minute)
				ends := 0
				for _, a := range o.log.arrivals() {
					if a.Kind == notify.Ended {
						ends++
						if (a.Answer == "") != answered {
							t.Errorf("%q has the link %q", a.Short, a.Answer)
						}
					}
				}
				if ends != 1 {
					t.Errorf("%d ends were told", ends)
				}
			})
		})
	}
}
