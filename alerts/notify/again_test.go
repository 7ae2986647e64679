package notify_test

import (
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/ingest/reading"
)

// Who acknowledged an alarm that is told again reads that it is, and why: the
// same text once more looks as if the answer had been lost.
func TestWhatIsToldAgainSaysSo(t *testing.T) {
	inOffice(t, people(), duty{"jo", "al"}, func(o *office, start time.Time) {
		up := raise(alarm.COCeiling, alarm.Critical, start)
		up.Alarm.Seq, up.From, up.Event = 3, alarm.Acknowledged, alarm.AlarmAgain
		up.ReAlarm, up.Why = true, "still so after 15 min"
		up.At = reading.InstantOf(start.Add(15 * time.Minute))
		time.Sleep(15 * time.Minute)
		o.commit(up)
		wait(time.Hour)
		all := o.log.arrivals()
		if len(all) < 4 {
			t.Fatalf("%d messages", len(all))
		}
		for _, a := range all {
			if !strings.HasPrefix(a.Short, "AGAIN. ") || !strings.HasPrefix(a.Subject, "AGAIN. ") || !strings.Contains(a.Text, "Told again: still so after 15 min.") {
				t.Errorf("%s reads %q, %q: %s", a.Person, a.Subject, a.Short, a.Text)
			}
		}
	})
}
