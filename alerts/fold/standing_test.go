package fold_test

import (
	"strings"
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

// A site falls silent: whoever is called learns of the alarm about CO that
// stands in one of its spaces, and what the air there was when last heard.
func TestASilentSiteTellsOfTheAir(t *testing.T) {
	for _, was := range []struct {
		ppm  float32
		air  alarm.Kind
		last string
	}{{3, "", ""}, {60, "", "60 ppm in "}, {250, alarm.COCeiling, "250 ppm in "}} {
		p := newPlay(t, 2)
		p.air(10*time.Minute, 3, was.ppm)
		p.wait(20 * time.Minute)
		var f alarm.Findings
		for _, s := range p.said {
			if s.Alarm.Kind == alarm.SiteSilent && s.To == alarm.Unacknowledged {
				f = s.Alarm.Findings
			}
		}
		if told := strings.Join(f.Evidence, "; "); f.Air != was.air || !strings.Contains(told, was.last) || was.last == "" && told != "" {
			t.Errorf("after %.0f ppm the silent site tells of %q, %q; want %q, %q", was.ppm, f.Air, told, was.air, was.last)
		}
	}
}

// What was never heard is waited for since the record began, and says so.
func TestNeverHeardSinceTheRecordBegan(t *testing.T) {
	p := newPlay(t, 2)
	begun := p.now
	p.burn(30*time.Minute, p.fleet.Heaters[0].Node)
	for _, s := range p.said {
		if a := s.Alarm; a.Kind == alarm.NodeSilent && (a.Since > begun.Add(time.Minute) || !strings.Contains(strings.Join(a.Findings.Evidence, ""), "never been heard")) {
			t.Errorf("silent since %s, %q", a.Since, a.Findings.Evidence)
		}
	}
	if n := p.count(alarm.NodeSilent, alarm.Unacknowledged); n != 1 {
		t.Errorf("%d units silent, want 1", n)
	}
}
