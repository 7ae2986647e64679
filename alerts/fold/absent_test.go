package fold_test

import (
	"math"
	"testing"
	"time"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// A unit that is taken off a lit heater and put back saw nothing meanwhile: none of
// that is in the estimate nor in a burn, all of it in the upper bound. One that only
// changed places with another is no absence.
func TestNobodySawWhatAUnitMissed(t *testing.T) {
	for _, counter := range []bool{true, false} {
		p := newPlay(t, 2)
		p.begin(counter)
		p.fitTo("H-1", "n-0")
		p.wait(30 * time.Hour)
		p.fitTo("H-0", "n-0")
		p.burnAs(2*time.Hour, "n-0", bareOr(counter))
		for _, restart := range []bool{false, true} {
			if restart {
				p.restart()
			}
			h := p.engine.View().Heaters[0]
			if h.Hours.Hours > 4.1 || h.Hours.Low > 4 || h.Hours.High < 33.9 || !h.Lit || p.now.Sub(h.LitSince) > 125*time.Minute {
				t.Errorf("counter %v: %+v, lit since %v", counter, h.Hours, h.LitSince)
			}
		}
		out := p.engine.Finish()
		if h := out.Hours[0]; h.Hours > 4.1 || h.High < 33.9 || h.Burns != 1 {
			t.Errorf("counter %v, at the end: %+v", counter, h)
		}
	}
}

func (p *play) begin(counter bool) {
	p.run["n-0"] = 500_000
	p.burnAs(2*time.Hour, "n-0", bareOr(counter))
}

func bareOr(counter bool) func(*reading.Sample) {
	return func(x *reading.Sample) {
		if !counter {
			x.Has &^= reading.Runtime
		}
	}
}

// The hours of a unit that is first heard after the meter was read go on from that
// reading: what ran before it is in it.
func TestAMeterHoldsWhatRanBeforeAUnitWasHeard(t *testing.T) {
	p := newPlay(t, 1)
	p.wait(time.Second)
	p.wait(10 * time.Hour)
	read := 100.0
	p.step(record.Line{Entry: &record.Entry{Heater: "H-0", Task: "meter", MeterH: &read}})
	p.wait(2 * time.Hour)
	p.run["n-0"] = 900_000
	p.burn(time.Hour, "n-0")
	h := p.engine.View().Heaters[0].Hours
	if h.Low > 101 || h.Low < 100.8 || h.High < 103 || h.High > 103.3 || math.Abs(h.Hours-101) > 0.05 {
		t.Errorf("%+v, want 101 h and up to 2 h more", h)
	}
}
