package notify_test

import (
	"errors"
	"fmt"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/ledger"
	"heaterd/alerts/notify"
)

// heaterd was off for weeks, in which work fell due on one day after the other:
// the mornings that were missed are one message, also where the first attempt
// fails.
func TestMissedMorningsAreOneMessage(t *testing.T) {
	for name, broken := range map[string]bool{"all is well": false, "the first attempt fails": true} {
		t.Run(name, func(t *testing.T) {
			inOffice(t, people(), duty{"jo", "jo"}, func(o *office, start time.Time) {
				tries := 0
				o.log.answers(func(m notify.Message) error {
					if tries++; broken && tries == 1 {
						return errors.New("no answer")
					}
					return nil
				})
				var b ledger.Batch
				for day := range 9 {
					up := raise(alarm.ServiceDue, alarm.Low, start.AddDate(0, 0, day-30))
					up.Alarm.ID = fmt.Sprintf("H-07.service-due.%d", day)
					up.Alarm.Key.Detail = fmt.Sprint(day)
					b.Transitions, b.Alarms, b.Jobs = append(b.Transitions, up), append(b.Alarms, up.Alarm), append(b.Jobs, o.planner.Plan(up)...)
				}
				if err := o.ledger.Commit(o.t.Context(), b); err != nil {
					t.Fatal(err)
				}
				o.courier.Wake()
				wait(30 * time.Minute)
				if n := len(o.log.arrivals()); n != 1 {
					t.Errorf("%d messages came", n)
				}
				late := raise(alarm.RuntimeJump, alarm.Low, start.AddDate(0, 0, -2))
				o.commit(late)
				wait(time.Minute)
				if got := o.log.arrivals(); len(got) != 2 || got[0].Text == got[1].Text {
					t.Errorf("of what waits now besides: %d messages", len(got))
				}
			})
		})
	}
}
