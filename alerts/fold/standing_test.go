package fold_test

import (
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/ingest/reading"
)

// A heater stops in a space whose alarm about CO waits for its reset: whoever
// is called to the heater is told of the air.
func TestAStopTellsOfTheAir(t *testing.T) {
	for ppm, want := range map[float32]alarm.Kind{0: "", 250: alarm.COCeiling} {
		p := failing(t)
		p.burnAs(20*time.Minute, "n-0", func(x *reading.Sample) { x.CO = ppm })
		p.burnAs(time.Hour, "n-0", func(x *reading.Sample) { x.CO = 0 })
		p.out(10*time.Minute, "n-0")
		told := false
		for _, s := range p.said {
			if s.Alarm.Kind == alarm.ShutdownUnexplained && s.To == alarm.Unacknowledged {
				told = true
				if s.Alarm.Findings.Air != want {
					t.Errorf("after %.0f ppm the stop tells of %q, want %q", ppm, s.Alarm.Findings.Air, want)
				}
			}
		}
		if !told {
			t.Error("no stop was told")
		}
	}
}
