package fold_test

import (
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// A sensor that drops to zero in the middle of bad air has measured no
// better air: the ceiling stands, what it said last is held in every figure, and
// the page does not show zero. A true reading ends it.
func TestASensorThatPlungesClearsNothing(t *testing.T) {
	for name, fade := range map[string][]float32{"at once": nil, "through its filter": {120, 45, 9}, "by way of what no air explains": {-40}} {
		t.Run(name, func(t *testing.T) {
			p := newPlay(t, 2)
			p.air(15*time.Minute, 2, 3)
			p.air(10*time.Minute, 250, 3)
			for _, ppm := range fade {
				p.air(30*time.Second, ppm, 3)
			}
			for range 4 * 60 {
				p.air(time.Minute, 0, 3)
				p.air(time.Minute, -1, 3)
			}
			if n := p.count(alarm.COCeiling, alarm.Latched); n != 0 {
				t.Error("a sensor that went to zero at once ended the ceiling")
			}
			if n := p.count(alarm.COSensorSuspect, alarm.Unacknowledged); n != 1 {
				t.Errorf("the sensor was doubted %d times, want once", n)
			}
			s := p.engine.View().Sites[0].Spaces[0]
			if s.COPPM != 250 || s.Air.PPM != 250 {
				t.Errorf("the page shows %g ppm, and %g in the figures; want 250, which is held", s.COPPM, s.Air.PPM)
			}
			if s.Air.TWA8hPPM < 245 {
				t.Errorf("8 h after 250 ppm their average is %g ppm: zeros of a dead sensor counted", s.Air.TWA8hPPM)
			}
			p.air(10*time.Minute, 4, 3)
			if n := p.count(alarm.COCeiling, alarm.Latched); n != 1 {
				t.Errorf("it reads again: the ceiling latched %d times, want once", n)
			}
		})
	}
}

// One that reads exactly zero in clean air, or of which nobody knows what it reads
// there, is doubted as well, but its zeros count: they may be clean air.
func TestAZeroThatMayBeCleanAirCounts(t *testing.T) {
	for name, before := range map[string][]float32{"zero in clean air": {0}, "bad air from the first": nil} {
		t.Run(name, func(t *testing.T) {
			p := newPlay(t, 2)
			for _, ppm := range before {
				p.air(15*time.Minute, ppm, 3)
			}
			p.air(10*time.Minute, 250, 3)
			p.air(8*time.Hour, 0, 3)
			if n := p.count(alarm.COCeiling, alarm.Latched); n != 1 {
				t.Errorf("the ceiling latched %d times, want once", n)
			}
			if n := p.count(alarm.COSensorSuspect, alarm.Unacknowledged); n != 1 {
				t.Errorf("the sensor was doubted %d times, want once", n)
			}
			if s := p.engine.View().Sites[0].Spaces[0]; s.Air.TWA8hPPM > 10 {
				t.Errorf("8 h after ten minutes of 250 ppm the average is %g ppm", s.Air.TWA8hPPM)
			}
		})
	}
}

// What a sensor read before its heater was taken elsewhere is no bad air there.
func TestAPlungeIsOfOneSpace(t *testing.T) {
	p := newPlay(t, 2)
	p.burnAs(10*time.Minute, "n-0", func(x *reading.Sample) { x.CO = 150 })
	p.fleet.Heaters[0].Space = "space-1"
	p.restart()
	p.burnAs(10*time.Minute, "n-0", func(x *reading.Sample) { x.CO = 0 })
	if n := p.count(alarm.COSensorSuspect, alarm.Unacknowledged); n != 0 {
		t.Errorf("a sensor in the clean air of another space was doubted")
	}
}

// A known concentration that is taken away looks like a sensor that dies. The
// check that is written down ends the doubt; withdrawn, it is as if it had not
// been.
func TestAVerifiedSensorIsBelieved(t *testing.T) {
	for _, settled := range []bool{false, true} {
		p := newPlay(t, 1)
		ppm := func(ppm float32) func(*reading.Sample) { return func(x *reading.Sample) { x.CO = ppm } }
		p.burnAs(5*time.Minute, "n-0", ppm(50))
		p.burnAs(5*time.Minute, "n-0", ppm(0))
		written := p.now
		p.step(record.Line{Entry: &record.Entry{Heater: "H-0", Task: "co-sensor-check"}})
		p.burnAs(12*time.Minute, "n-0", ppm(0))
		if settled {
			p.burnAs(8*time.Hour, "n-0", ppm(0))
		}
		if n := p.count(alarm.COSensorSuspect, alarm.Returned); n != 1 {
			t.Errorf("the doubt of a verified sensor ended %d times, want once", n)
		}
		if n := p.count(alarm.COShift, alarm.Unacknowledged); n != 0 {
			t.Errorf("the gas of the check was held: %d alarms of the shift", n)
		}
		p.withdraw("co-sensor-check", written)
		p.burnAs(5*time.Minute, "n-0", ppm(0))
		if n := p.count(alarm.COSensorSuspect, alarm.Unacknowledged); n != 2 {
			t.Errorf("without the check the sensor was doubted %d times, want twice", n)
		}
	}
}

// A sensor that plunged to zero is doubted on the heater that it is taken to as
// well: its zeros are no air of there.
func TestAPlungeGoesWithTheUnit(t *testing.T) {
	p := newPlay(t, 2)
	p.air(15*time.Minute, 2, 2)
	p.air(10*time.Minute, 150, 60)
	p.air(10*time.Minute, 0, 60)
	p.now = p.now.Add(time.Second)
	p.step(record.Line{Entry: &record.Entry{Heater: "H-1", Task: "fit-node", Node: "n-0"}})
	p.burnAs(2*time.Hour, "n-0", func(x *reading.Sample) { x.CO = 0 })
	p.restart()
	p.burnAs(time.Hour, "n-0", func(x *reading.Sample) { x.CO = 0 })
	if s := p.engine.View().Sites[0].Spaces[0]; s.COPPM < 60 || s.Air.TWA8hPPM < 20 {
		t.Errorf("three hours of a dead sensor after 60 ppm: %g ppm, %.1f in 8 h", s.COPPM, s.Air.TWA8hPPM)
	}
	if n := p.count(alarm.COSensorSuspect, alarm.Unacknowledged); n != 2 {
		t.Errorf("doubted %d times, want once on each heater", n)
	}
}
