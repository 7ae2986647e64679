package fold_test

import (
	"math"
	"slices"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fleet"
	"heaterd/alerts/fold"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// burnAs lets a node report every 30 s for a while, its heater burning, with
// what fit changes of the reading.
func (p *play) burnAs(d time.Duration, node reading.NodeID, fit func(x *reading.Sample)) {
	for range int(d / (30 * time.Second)) {
		p.now = p.now.Add(30 * time.Second)
		p.run[node] += 30
		x := p.sample(node)
		fit(&x)
		p.send(node, x)
	}
}

// full measures all, with so much in the tank; bare has no sensor but of the
// flame and the temperature.
func full(level, ppm float32) func(*reading.Sample) {
	return func(x *reading.Sample) {
		x.Has |= reading.Fuel
		x.Fuel, x.CO = level, ppm
	}
}

func bare(x *reading.Sample) { x.Has &^= reading.CO }

func (p *play) fitSpare() {
	p.step(record.Line{Entry: &record.Entry{Heater: "H-0", Task: "fit-node", Node: "spare"}})
}

// spare burns for an hour on a unit that measures all, and is then given one
// that measures little.
func spare(t *testing.T, ppm float32) *play {
	p := newPlay(t, 1)
	p.burnAs(time.Hour, "n-0", full(0.9, ppm))
	p.fitSpare()
	return p
}

// What a unit that left had told of the tank is where the next one, which does
// not measure it, goes on from.
func TestTheTankGoesOnBeneathAnotherUnit(t *testing.T) {
	p := spare(t, 8)
	p.burnAs(2*time.Hour, "spare", bare)
	if h := p.engine.View().Heaters[0]; !h.HasLevel || math.Abs(h.Level-(0.9-2*4.4/52)) > 0.02 {
		t.Errorf("2 h after 0.90 the level is %.3f, known %v", h.Level, h.HasLevel)
	}
	p.burnAs(8*time.Hour, "spare", bare)
	if n := p.count(alarm.FuelLow, alarm.Unacknowledged); n != 1 {
		t.Errorf("10 h of flame on a tank of 12 h: fuel-low was raised %d times, want once", n)
	}
	p.step(record.Line{Entry: &record.Entry{Heater: "H-0", Task: "refuel"}})
	p.burnAs(time.Hour, "spare", bare)
	if h := p.engine.View().Heaters[0]; h.Level < 0.9 {
		t.Errorf("1 h after it was filled the level is %.3f", h.Level)
	}
	p.restart()
	if h := p.engine.View().Heaters[0]; h.Level < 0.9 {
		t.Errorf("after a restart the level is %.3f", h.Level)
	}
}

// A filling before the last level of the unit that left is in that level.
func TestALevelHoldsWhatWasFilledBefore(t *testing.T) {
	p := newPlay(t, 1)
	p.burnAs(time.Hour, "n-0", full(0.5, 8))
	p.fitSpare()
	p.burnAs(time.Hour, "spare", bare)
	litres := 26.0
	p.write(record.Entry{Task: "refuel", Litres: &litres}, 90*time.Minute)
	p.burnAs(time.Minute, "spare", bare)
	if h := p.engine.View().Heaters[0]; h.Level > 0.5 {
		t.Errorf("the level is %.3f, want less than the 0.5 that was sent after the filling", h.Level)
	}
}

// A space whose unit gave way to one without CO is not measured any more; its
// record stands.
func TestASpaceIsNotMeasuredByTheUnitThatLeft(t *testing.T) {
	p := spare(t, 8)
	p.burnAs(time.Hour, "spare", bare)
	v := p.engine.View()
	if s := v.Sites[0].Spaces[0]; s.HasCO || s.COHeard {
		t.Errorf("%.0f ppm, heard %v, by a unit that measures none", s.COPPM, s.COHeard)
	}
	if v.Heaters[0].Known.Carries(reading.CO) {
		t.Error("the unit is said to have sent CO")
	}
	p.burnAs(time.Minute, "spare", full(0.9, 30))
	if s := p.engine.View().Sites[0].Spaces[0]; !s.HasCO || s.COPPM != 30 {
		t.Errorf("30 ppm of the spare count as %.0f", s.COPPM)
	}
	if got := p.engine.Finish().Exposures[0].PeakPPM; got != 30 {
		t.Errorf("the peak of the record is %v", got)
	}
}

// Where it was above the limit, nobody measured that it fell.
func TestAnotherUnitEndsNoCeiling(t *testing.T) {
	p := spare(t, 250)
	p.burnAs(12*time.Hour, "spare", bare)
	if n := p.count(alarm.COCeiling, alarm.Latched); n != 0 {
		t.Error("a unit without CO ended the ceiling")
	}
	if n := p.count(alarm.COShift, alarm.Unacknowledged); n != 1 {
		t.Errorf("the shift was told %d times, want once", n)
	}
	p.burnAs(20*time.Minute, "spare", full(0.9, 3))
	if n := p.count(alarm.COCeiling, alarm.Latched); n != 1 {
		t.Errorf("measured at 3 ppm, the ceiling latched %d times, want once", n)
	}
}

// What the unit that left had told does not stand against another that
// measures the space.
func TestTheUnitThatLeftKeepsNoAlarm(t *testing.T) {
	p := newPlay(t, 2)
	cold := func(x *reading.Sample) { x.CO, x.Temp = 250, 2 }
	p.burnAs(10*time.Minute, "n-0", cold)
	p.fitSpare()
	flame := func(x *reading.Sample) { x.Has = reading.Flame }
	for range 60 {
		p.burnAs(time.Minute, "spare", flame)
		p.beside(time.Minute, 3)
	}
	for k, s := range map[alarm.Kind]alarm.State{alarm.COCeiling: alarm.Latched, alarm.SpaceCold: alarm.Returned} {
		if n := p.count(k, s); n != 1 {
			t.Errorf("%s ended %d times by what the other measured, want once", k, n)
		}
	}
}

// A unit that was taken off is no sensor of the space from then on.
func TestASpaceIsNotMeasuredByAUnitTakenOff(t *testing.T) {
	p := newPlay(t, 2)
	p.fleet.Heaters[1].Space = ""
	p.engine = fold.New(p.fleet, fold.DefaultRules())
	p.burnAs(time.Hour, "n-0", full(0.9, 8))
	p.step(record.Line{Entry: &record.Entry{Heater: "H-1", Task: "fit-node", Node: "n-0"}})
	if s := p.engine.View().Sites[0].Spaces[0]; s.COHeard || s.TempHeard {
		t.Errorf("CO heard %v, temperature %v, where no unit is", s.COHeard, s.TempHeard)
	}
}

// A heater without a tank's figures gets a unit that does not measure fuel: a
// filling that a person wrote down ends what the other unit had told.
func TestAFillEndsWhatNothingMeasures(t *testing.T) {
	p := newPlay(t, 1)
	p.fleet.Heaters[0].TankL, p.fleet.Heaters[0].BurnLPerH = 0, 0
	p.engine = fold.New(p.fleet, fold.DefaultRules())
	p.burnAs(time.Hour, "n-0", full(0.1, 3))
	p.fitSpare()
	p.burnAs(time.Hour, "spare", bare)
	if !p.active(alarm.FuelLow) {
		t.Fatal("low fuel ended with the unit that measured it")
	}
	p.step(record.Line{Entry: &record.Entry{Heater: "H-0", Task: "refuel"}})
	p.burnAs(time.Hour, "spare", bare)
	if p.active(alarm.FuelLow) {
		t.Error("low fuel outlives the filling")
	}
}

// TestAFittedUnitIsNotHeardByBeingFitted fits a unit that says nothing, and
// another that does: fitting is no word of it, and silence counts from then.
func TestAFittedUnitIsNotHeardByBeingFitted(t *testing.T) {
	p := newPlay(t, 1)
	p.burnAs(time.Hour, "n-0", full(0.9, 8))
	heard := p.now
	if h := p.engine.View().Heaters[0]; h.Heard != heard || h.Fitted != 0 {
		t.Errorf("heard at %s, fitted at %s; want heard at %s", h.Heard, h.Fitted, heard)
	}
	p.now = p.now.Add(time.Minute)
	p.fitSpare()
	fitted := p.now
	p.wait(time.Minute)
	p.restart()
	if h := p.engine.View().Heaters[0]; h.Heard != 0 || h.Fitted != fitted || h.Silent {
		t.Errorf("heard at %s, fitted at %s, silent %v; want never, %s, not yet", h.Heard, h.Fitted, h.Silent, fitted)
	}
	p.wait(10 * time.Minute)
	if h := p.engine.View().Heaters[0]; h.Heard != 0 || !h.Silent || p.count(alarm.NodeSilent, alarm.Unacknowledged) != 1 {
		t.Errorf("ten minutes on: heard at %s, silent %v, told %d times", h.Heard, h.Silent, p.count(alarm.NodeSilent, alarm.Unacknowledged))
	}
	if a := p.said[len(p.said)-1].Alarm; a.Since != fitted || !slices.Contains(a.Findings.Evidence, "it has not been heard yet since it was fitted") {
		t.Errorf("silent since %s by %q", a.Since, a.Findings.Evidence)
	}
	p.burnAs(time.Minute, "spare", bare)
	if h := p.engine.View().Heaters[0]; h.Heard != p.now || h.Fitted != 0 || h.Silent {
		t.Errorf("heard at %s, fitted at %s, silent %v; want heard now", h.Heard, h.Fitted, h.Silent)
	}
}

// TestAHeaterThatCameBackIsNotHeardByComingBack takes a heater out of the
// configuration for a day.
func TestAHeaterThatCameBackIsNotHeardByComingBack(t *testing.T) {
	p := newPlay(t, 2)
	p.burn(time.Hour, "n-0", "n-1")
	heard := p.now
	gone := p.fleet.Heaters[1]
	p.reload(func(f *fleet.Fleet, _ *fold.Rules) { f.Heaters = f.Heaters[:1] })
	p.burn(24*time.Hour, "n-0")
	p.reload(func(f *fleet.Fleet, _ *fold.Rules) { f.Heaters = append(f.Heaters, gone) })
	if h := p.engine.View().Heaters[1]; h.Heard != heard || h.Fitted != 0 || h.Silent {
		t.Errorf("heard at %s, fitted at %s, silent %v; want heard at %s and not silent yet", h.Heard, h.Fitted, h.Silent, heard)
	}
}

// TestAClockSetBackFitsNoUnit sets the daemon's clock back: what was heard was
// heard.
func TestAClockSetBackFitsNoUnit(t *testing.T) {
	p := newPlay(t, 1)
	p.burn(3*time.Hour, "n-0")
	p.now = p.now.Add(-2 * time.Hour)
	for range 5 {
		p.wait(time.Second)
	}
	if h := p.engine.View().Heaters[0]; h.Fitted != 0 || h.Heard == 0 || h.Heard > p.now {
		t.Errorf("heard at %s, fitted at %s; want heard by %s", h.Heard, h.Fitted, p.now)
	}
}

// What the unit before had promised stands for what it sent, though another one,
// which promises more, was fitted before that was settled.
func TestAPromiseBindsOnlyTheUnitThatGaveIt(t *testing.T) {
	last := func(promised time.Duration) (low, high float64) {
		p := newPlay(t, 1)
		tell := func(node reading.NodeID, within, every time.Duration, times int) {
			for range times {
				p.now = p.now.Add(every)
				p.run[node] += every.Seconds()
				x := p.sample(node)
				x.Has &^= reading.Runtime
				p.step(record.Line{Pack: &reading.Pack{Node: node, Within: within, Samples: []reading.Sample{x}}})
			}
		}
		tell("n-0", 20*time.Minute, 15*time.Minute, 2)
		p.now = p.now.Add(time.Minute)
		p.step(record.Line{Entry: &record.Entry{Heater: "H-0", Task: "fit-node", Node: "spare"}})
		tell("spare", promised, 30*time.Second, 120)
		fold.Renew(p.engine, 0)
		h := p.engine.View().Heaters[0].Hours
		return h.Low, h.High
	}
	low, high := last(20 * time.Minute)
	if l, h := last(time.Minute); l != low || h != high {
		t.Errorf("%.3f to %.3f h, with a unit that promises as before %.3f to %.3f", l, h, low, high)
	}
}
