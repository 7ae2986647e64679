package fold_test

import (
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/ingest/record"
)

// A heater that goes out once a day never does so three times in a day. That it
// is always at the same hour is told with the stop, however often it was
// switched off in between.
func TestAStopTellsWhatTheStopsHaveInCommon(t *testing.T) {
	p := failing(t)
	for range 7 {
		for range 8 {
			p.burn(30*time.Minute, "n-0")
			p.step(record.Line{Stop: &record.PlannedStop{Heater: "H-0", For: 15 * time.Minute}})
			p.out(15*time.Minute, "n-0")
		}
		p.burn(17*time.Hour, "n-0")
		p.out(time.Hour, "n-0")
	}
	told := 0
	for _, s := range p.said {
		if s.Alarm.Kind == alarm.ShutdownUnexplained && s.To == alarm.Unacknowledged {
			if strings.Contains(strings.Join(s.Alarm.Findings.Evidence, "; "), "7 endings gather about") {
				told++
			}
		}
	}
	if told != 1 {
		t.Errorf("the seventh stop at the same hour was told %d times, want once", told)
	}
}
