package fold_test

import (
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/ingest/reading"
)

// A sensor that stands at an offset is doubted before people are told so: it
// measures nothing beside one whose last word is held.
func TestAnOffsetThatStandsMeasuresNothing(t *testing.T) {
	p := newPlay(t, 2)
	for i := range 13 * 60 {
		p.now = p.now.Add(time.Minute)
		for k, ppm := range []float32{5 + float32(i%2), 5} {
			node := p.fleet.Heaters[k].Node
			switch {
			case k == 0 && i >= 6*60:
				continue // it died
			case k == 0 && i >= 5*60:
				ppm += 60
			}
			x := p.sample(node)
			x.Has &^= reading.Runtime
			if i%60 < 5 {
				x.On = 0
			}
			x.CO = ppm
			p.send(node, x)
		}
		if n := p.count(alarm.COSensorSuspect, alarm.Unacknowledged); i == 11*60 && n != 0 {
			t.Errorf("after 11 h at 5 ppm %d sensors are told as suspect, want none", n)
		}
	}
	if n := p.count(alarm.COSensorSuspect, alarm.Unacknowledged); n != 1 {
		t.Errorf("after 13 h at 5 ppm %d sensors are told as suspect, want it", n)
	}
	rang := 0
	for _, s := range p.said {
		if s.Alarm.Kind != alarm.COShift || s.To != alarm.Unacknowledged {
			continue
		}
		if rang++; strings.Contains(s.Alarm.Findings.Sure, "another reads") {
			t.Errorf("the alarm of the shift says %q: the other one stands since morning", s.Alarm.Findings.Sure)
		}
	}
	if rang != 1 {
		t.Errorf("the alarm of the shift rang %d times, want once", rang)
	}
}
