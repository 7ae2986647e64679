package fold

import (
	"math"
	"time"

	"heaterd/alerts/burner"
	"heaterd/alerts/exposure"
	"heaterd/alerts/shutdown"
	"heaterd/alerts/trust"
	"heaterd/alerts/warmth"
	"heaterd/ingest/reading"
)

// Witness is what one heater's samples add up to, folded in order of measured
// time. It is a plain value: assigning it copies it.
type Witness struct {
	Burner burner.State
	Air    exposure.Sensor
	Warm   warmth.State
	Habit  shutdown.Habit // where it switches off
	CutIn  shutdown.Habit // how cold it gets before it lights again
	Pace   shutdown.Pace
	Every  trust.Cadence
	Cell   trust.COSensor
	Known  Known
	Last   ended           // the burn that ended last, and what came after
	At     reading.Instant // newest sample folded; 0 none
	Marked int64           // number of the last mark folded
	Fill   Fill
	Day    day
	Dims   dims
}

// Known is the last word on each quantity.
type Known struct {
	reading.Sample                 // last value of each quantity that the unit on the heater ever carried
	COAt           reading.Instant // when the CO was measured
	TempAt         reading.Instant
	FuelAt         reading.Instant
	Level          float32 // fuel, ratio, without the slopping of a tank that shakes
	FuelSince      float64 // h run when the fuel last read another level
}

// Fill is the last known filling of the tank.
type Fill struct {
	Known bool
	Sent  bool // no filling, but the last level that a unit sent before it was taken off
	At    reading.Instant
	Hours float64 // burner hours run at that moment
	Full  float64 // ratio of the tank after filling
}

// day keeps the burner hours of the civil day in progress.
type day struct {
	Number int32           // days since 1970-01-01 in the site's zone
	Ends   reading.Instant // next midnight there
	Hours  float64         // burner hours run when it began
}

func (k *Known) take(x *reading.Sample) {
	k.At = x.At
	k.On = k.On&^x.Has | x.On
	k.Has |= x.Has
	if x.Carries(reading.Runtime) {
		k.Runtime = x.Runtime
	}
	if x.Carries(reading.CO) {
		k.CO, k.COAt = x.CO, x.At
	}
	if x.Carries(reading.Temp) {
		k.Temp, k.TempAt = x.Temp, x.At
	}
	if x.Carries(reading.Fuel) {
		k.Fuel, k.FuelAt = x.Fuel, x.At
	}
	if x.Has&(reading.BatteryLevel|reading.BatteryVolts) != 0 {
		k.Battery = x.Battery
	}
}

// otherwise reports whether a sample tells anything but the last word on its
// quantities.
func (k *Known) otherwise(x *reading.Sample) bool {
	differs := func(q reading.Quantity, is bool) bool { return x.Carries(q) && is }
	return (k.On^x.On)&x.Has != 0 || differs(reading.Runtime, k.Runtime != x.Runtime) || differs(reading.CO, k.CO != x.CO) ||
		differs(reading.Temp, k.Temp != x.Temp) || differs(reading.Fuel, k.Fuel != x.Fuel)
}

// apply folds one sample that is later than all before it and adds the burns
// it closed to ended.
func (w *Witness) apply(h *heater, p *pending, ended []ended) []ended {
	x := &p.Sample
	h.applyMarksBefore(w, x.At)
	w.turnDay(h, x.At)
	expected := w.expect(h, x.At)
	w.noteRefill(h, x)
	var b burner.Burn
	if w.Burner.Take(x, p.Came, expected, h.Begin, &h.rules.Burner, &b) {
		w.close(h, &b)
		ended = append(ended, w.Last)
	}
	w.follow(h, x)
	w.pace(x)
	if x.Carries(reading.CO) {
		w.breathe(x, expected)
	}
	w.smooth(h, x)
	w.Known.take(x)
	if x.Carries(reading.Temp) {
		w.Warm.Apply(x.At, float64(x.Temp), w.Known.Lit() || h.space.otherLit(h), h.space.limits())
	}
	w.At = x.At
	return ended
}

// expect gives the expected time to the next reading: what the node promised,
// else what it is used to.
func (w *Witness) expect(h *heater, at reading.Instant) time.Duration {
	w.Every.Observe(at)
	return w.Every.Expected(h.promised(at))
}

// close takes down a burn that ended with what is known about it now.
func (w *Witness) close(h *heater, b *burner.Burn) {
	hours := w.Burner.HoursAt(b.End).Run
	e := ended{
		Burn: *b, Hours: hours, FillKnown: w.Fill.Known, SinceFillH: hours - w.Fill.Hours, Full: 1,
		Number: w.Last.Number + 1, Failed: w.Last.Number > 0 && h.brief(b) && h.brief(&w.Last.Burn),
	}
	if w.Fill.Known {
		e.Full = w.Fill.Full
	}
	e.TailH = w.Last.tail(h, b, hours)
	e.Stuck = w.Known.Carries(reading.Fuel) && h.gaugeStuck(w, hours)
	if !b.Silent && !b.StartUnseen && h.lasted(b) {
		w.Pace.Lit.Add(b.Seconds)
	}
	e.Chill, e.Chilling = w.Pace.Chill(w.CutIn.Usual(), b.Gap, &h.rules.Shutdown)
	if w.Last.litUnseen(b) {
		w.learn(h)
	}
	h.pass(w)
	w.Last = e
}

// litUnseen takes note that a heater lit again where no reading caught it lit:
// only the counter told of that burn.
func (e *ended) litUnseen(b *burner.Burn) bool {
	if e.Number == 0 || e.Relit != 0 {
		return false
	}
	e.Relit, e.Relight = b.Start, e.Lowest
	return true
}

// lasted reports whether a burn tells anything of the thermostat: a flame that
// does not hold does not.
func (h *heater) lasted(b *burner.Burn) bool {
	return b.Seconds >= h.rules.Shutdown.ShortBurn.Seconds() || shutdown.Warmed(b, h.Thermostat)
}

// mayBeDry reports whether the tank may have been empty by the hours: such an
// ending does not tell where the thermostat switches off.
func (h *heater) mayBeDry(e *ended) bool {
	tank, o := h.tankHours(e.Full), &h.rules.Shutdown
	return e.FillKnown && tank > 0 && e.SinceFillH >= o.TankLow*tank && e.SinceFillH <= o.TankHigh*tank
}

// byItself reports whether nothing is known that kept the heater off, so that
// the thermostat lit it: a person lights one whose tank was empty, and the
// mains one that lacked them.
func (e *ended) byItself() bool { return !e.Refilled && e.Dark == 0 }

// pace notes how fast the temperature moved since the reading before.
func (w *Witness) pace(x *reading.Sample) {
	if x.Carries(reading.Temp|reading.Flame) && w.Known.Carries(reading.Temp|reading.Flame) {
		w.Pace.Warmed(w.Known.Lit(), x.Lit(), x.Temp-w.Known.Temp, x.At.Sub(w.Known.TempAt))
	}
}

// follow notes what happens after the last ending: how cold it gets before
// the heater lights again, and when it does.
//
// What comes later than AftermathFor says nothing of the ending any more, so
// that a verdict does not depend on when it is made.
func (w *Witness) follow(h *heater, x *reading.Sample) {
	if w.Last.Number == 0 || w.Last.Relit != 0 {
		return
	}
	if w.Burner.Burning && w.Burner.Burn.Start >= w.Last.Burn.EndLow {
		w.Last.Relit, w.Last.Relight = w.Burner.Burn.Start, w.Last.Lowest
		if x.Carries(reading.Temp) {
			w.Last.Relight = x.Temp
		}
		w.learn(h)
		return
	}
	if x.At.Sub(w.Last.Burn.End) > h.rules.AftermathFor {
		return
	}
	w.Last.Until = x.At
	if w.Last.Dark == 0 && x.Carries(reading.Supply) && x.On&reading.Supply == 0 {
		w.Last.Dark = x.At
	}
	w.Last.hear(&w.Known, x)
	if x.Carries(reading.Temp) && (!w.Last.HasLow || x.Temp < w.Last.Lowest) {
		w.Last.Lowest, w.Last.HasLow = x.Temp, true
		if w.Last.Chilled == 0 && w.Last.Chilling && x.Temp < w.Last.Chill {
			w.Last.Chilled = x.At
		}
	}
}

// learn takes the cycle that the heater has just gone through into its habits.
// One that its own control lit again after a failed flame is no doing of its
// thermostat: a heater that fails time and again would pass as ordinary by it.
func (w *Witness) learn(h *heater) {
	l := &w.Last
	if l.Burn.Silent || !h.lasted(&l.Burn) || l.retried(h, &w.Pace) {
		return
	}
	if l.Burn.HasTemp && !h.mayBeDry(l) {
		w.Habit.Add(l.Burn.TempEnd)
	}
	if !l.byItself() {
		return
	}
	if l.HasLow {
		w.CutIn.Add(l.Lowest)
	}
	w.Pace.Out.Add(l.Relit.Seconds(l.Burn.End))
}

func (e *ended) retried(h *heater, pace *shutdown.Pace) bool {
	if !e.Burn.HasTemp || !e.HasLow {
		return false
	}
	low := min(e.Lowest, e.Relight)
	return pace.Retried(&e.Burn, e.Relit.Sub(e.Burn.End), e.Relit.Sub(e.Until), low, h.Thermostat, &h.rules.Shutdown)
}

// hear notes how long the thermostat asks for heat that does not come, from
// when it asked again.
func (a *Aftermath) hear(was *Known, x *reading.Sample) {
	if !x.Carries(reading.Call) {
		return
	}
	switch asks := x.On&reading.Call != 0; {
	case !asks:
		a.Asks = 0
	case a.Asks != 0:
		if d := x.At.Sub(a.Asks); d > a.Vain {
			a.Vain, a.VainFrom = d, a.Asks
		}
	case was.Carries(reading.Call) && was.On&reading.Call == 0:
		a.Asks = x.At
	}
}

// noteRefill recognises a filled tank by a level that rose.
func (w *Witness) noteRefill(h *heater, x *reading.Sample) {
	if !x.Carries(reading.Fuel) || !w.Known.Carries(reading.Fuel) {
		return
	}
	if float64(x.Fuel-w.Known.Fuel) >= h.rules.RefillRise {
		f := Fill{Known: true, At: x.At, Hours: w.Burner.HoursAt(x.At).Run, Full: float64(x.Fuel)}
		h.keepFill(w, filling{Fill: f})
		w.fill(h, f)
	}
}

// slopping is the time over which the level in a tank is smoothed: short beside
// the hours that one lasts. Common practice, no source.
const slopping = 10 * time.Minute

// smooth goes on with the level, which falls by what the plate says while the
// heater burns, and follows what is read.
func (w *Witness) smooth(h *heater, x *reading.Sample) {
	if !x.Carries(reading.Fuel) {
		return
	}
	k, passed := &w.Known, x.At.Sub(w.Known.FuelAt)
	if passed > 6*slopping || x.Fuel != k.Fuel {
		k.FuelSince = w.Burner.HoursAt(x.At).Run
	}
	if passed > 6*slopping {
		k.Level = x.Fuel
		return
	}
	if k.Lit() && h.TankL > 0 {
		k.Level -= float32(passed.Hours() * h.BurnLPerH / h.TankL)
	}
	share := 1 - math.Exp(-passed.Minutes()/slopping.Minutes())
	k.Level = max(0, k.Level+(x.Fuel-k.Level)*float32(share))
}

// turnDay closes each civil day that ended before at.
func (w *Witness) turnDay(h *heater, at reading.Instant) {
	if at < w.Day.Ends {
		return
	}
	w.Day = h.site.dayAt(at, w.Burner.HoursAt(at).Run)
}
