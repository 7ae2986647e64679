package shutdown

import (
	"fmt"
	"math"
	"strings"
	"time"

	"heaterd/alerts/burner"
	"heaterd/alerts/fleet"
	"heaterd/ingest/reading"
)

// What each piece of evidence is worth for or against the thermostat having
// been satisfied. A point is about half a decade of odds; the figures were
// set by judgement (common practice, no source).
const (
	hasThermostat = 1.0  // most endings of a heater with a thermostat are its doing
	callFell      = 4.0  // the thermostat stopped asking just then
	callStands    = -4.0 // it still asks
	callTaken     = -1.0 // it stopped asking where no thermostat does
	callVain      = -6.0 // it asked again, and nothing lit: whatever it did before, it needs a visit
	atUsual       = 2.0  // as warm as at its other endings
	atOdd         = 0.9  // the same, but the setpoint speaks against it
	aboveUsual    = 1.5
	warming       = 1.0 // nearly as warm, by a sensor that lags
	belowUsual    = -2.5
	inBand        = 1.0 // as warm as the setpoint lets expect; its sensor may differ
	belowBand     = -2.5
	belowCutIn    = -3.0 // colder than where it would switch on
	cycled        = 2.0  // lit again once it was colder by the differential
	relitSoon     = -2.0 // lit again before it was
	asEver        = 1.0  // as long as at its other burns; nobody measured how warm
	hardlyBurned  = -2.0 // too short to have warmed anything
	grewCold      = -3.0 // let it get colder than that without lighting
)

// points weighs what speaks for a satisfied thermostat.
type points struct {
	sum     float64
	text    []string
	worth   []float64 // of each text
	certain bool      // the thermostat itself was heard to stop asking
	mute    bool      // only the sum is wanted: writing the texts costs the most
}

func (p *points) add(v float64, format string, args ...any) {
	p.sum += v
	if !p.mute {
		p.text, p.worth = append(p.text, fmt.Sprintf(format, args...)), append(p.worth, v)
	}
}

// against gives the texts with what speaks against the thermostat first, else
// in their order: who is called to a stop reads the first one or two.
func (p *points) against() []string {
	var no, yes []string
	for i, text := range p.text {
		if p.worth[i] < 0 {
			no = append(no, text)
		} else {
			yes = append(yes, text)
		}
	}
	return append(no, yes...)
}

// satisfaction weighs the call for heat, the temperature at the end and what
// came after.
func satisfaction(e *Evidence, named bool, o *Options, mute bool) points {
	p := points{mute: mute}
	switch {
	case named:
		p.sum = hasThermostat
	case e.Thermostat != nil:
		p.add(0, "it goes out at %.1f °C and lights again at %.1f °C as by a thermostat, and its configuration names none", e.Usual.C, e.UsualOn.C)
	}
	p.call(e, o)
	if e.Thermostat == nil {
		return p
	}
	if e.Burn.HasTemp {
		p.warmth(e, o)
	}
	if e.brief(o) && !e.ranItsCourse(o) && !Warmed(&e.Burn, e.Thermostat) && !(e.blind(o) && e.Pace.usualBurn(e.Burn.Seconds, e.Burn.Gap, o)) {
		p.add(hardlyBurned, "it had burned for %.0f s only", e.Burn.Seconds)
	}
	if !e.Burn.HasTemp {
		p.habit(e, o)
		return p
	}
	p.aftermath(e, o)
	return p
}

// habit goes by how long the heater usually burns and stays out, where nobody
// measures how warm it is.
func (p *points) habit(e *Evidence, o *Options) {
	out, known := e.Pace.Out.Usual(o.UsualFrom)
	if !known || !e.Pace.usualBurn(e.Burn.Seconds, e.Burn.Gap, o) {
		p.aftermath(e, o)
		return
	}
	usual := time.Duration(out * float64(time.Second))
	p.add(asEver, "it had burned as long as it usually does")
	switch limit := outTooLong*usual + 2*e.Burn.Gap; {
	case e.HeldAfter > 0 && e.HeldAfter < e.Known:
	case e.asUsual(o):
		p.add(cycled, "it lit again after %s, as it usually does", span(e.RelitAfter))
	case e.Known > limit:
		p.add(grewCold, "it then stayed out for %s; it usually lights again after %s", span(e.Known), span(usual))
	case e.Relit && e.RelitAfter < e.soon(o):
		p.add(relitSoon, "it lit again after %s", span(e.RelitAfter))
	}
}

// outTooLong is how many times the usual time out is too long for a
// thermostat, where nothing else tells. Common practice, no source.
const outTooLong = 4

func (p *points) call(e *Evidence, o *Options) {
	b := &e.Burn
	if !b.Before.Carries(reading.Call) && !b.After.Carries(reading.Call) {
		return
	}
	fell := e.callFell(o)
	switch {
	case fell && e.mainsElsewhere(): // a call that the mains feed goes with them
	case fell && e.callGone(o):
		p.add(callTaken, "its call for heat went with the flame, too cold for its thermostat to have stopped asking: the mains or a switch may have taken both")
	case fell && e.callsTaken(o):
	case fell:
		p.certain = !e.inVain(o)
		p.add(callFell, "the thermostat stopped asking for heat as it went out")
		if !p.certain {
			p.add(callVain, "the thermostat asked for heat %s later, and the heater did not light for %s", span(e.VainAfter), span(e.Vain))
		}
	case b.After.On&reading.Call != 0 && !e.asksAgain(o):
		p.add(callStands, "the thermostat still asked for heat")
	}
}

// inVain reports whether the heater was asked to light again, did not, and
// nothing is known that kept it off.
func (e *Evidence) inVain(o *Options) bool {
	held := e.HeldAfter > 0 && e.HeldAfter < e.VainAfter+o.CallVain || e.PlannedWindow || e.PlannedStop
	return e.Vain >= o.CallVain && !held
}

// asksAgain reports whether a thermostat that was satisfied may ask again by
// the first reading after the end: some heaters stay out for less time than
// lies between two readings.
func (e *Evidence) asksAgain(o *Options) bool {
	usual, known := e.Pace.Out.Usual(o.UsualFrom)
	return known && e.blind(o) && e.asUsual(o) && e.Burn.After.At.Seconds(e.Burn.EndLow) >= usualLeast*usual
}

// warmth compares the temperature at the end with where this heater usually
// switches off, or with the setpoint while that is not known.
func (p *points) warmth(e *Evidence, o *Options) {
	end, t := float64(e.Burn.TempEnd), e.Thermostat
	cutIn := t.SetpointC - t.DifferentialC
	missed := min(e.missedUp(), e.band())
	known := int(e.Usual.N) >= o.UsualFrom && e.Usual.C >= cutIn-2*o.BandSlackC-missed
	switch {
	case e.regular(o): // wherever that lies to the setpoint
		p.usual(e, end, e.Usual.C, missed, o)
	case end < cutIn-2*o.BandSlackC-missed:
		p.add(belowCutIn, "it was %.1f °C, colder than the thermostat switches on at", end)
	case known:
		p.usual(e, end, t.SetpointC, missed, o)
	case end >= t.SetpointC-o.BandSlackC-missed:
		p.add(inBand, "it was %.1f °C at the end, with the thermostat set to %.1f °C", end, t.SetpointC)
	default:
		p.add(belowBand, "it was %.1f °C at the end, below the setpoint of %.1f °C", end, t.SetpointC)
	}
}

// usual compares it with the usual temperature, of which the readings may have
// missed so much.
func (p *points) usual(e *Evidence, end, setpoint, missed float64, o *Options) {
	u := e.Usual
	slack := max(o.slack(u), e.stream(o))
	below := max(o.near(u), e.stream(o))
	switch {
	case end < u.C-slack-missed && end >= u.C-slack-missed-e.behind(o):
		p.add(warming, "it was %.1f °C at the end and warming fast; this heater usually switches off at %.1f °C", end, u.C)
	case end < u.C-below-missed-e.behind(o):
		p.add(belowUsual, "it was %.1f °C at the end; this heater usually switches off at %.1f °C", end, u.C)
	case end > u.C+slack:
		p.add(aboveUsual, "it was %.1f °C at the end, above the usual %.1f °C", end, u.C)
	case u.C < setpoint-o.BandSlackC-missed:
		p.add(atOdd, "it was %.1f °C at the end, where this heater often goes out, below its setpoint of %.1f °C", end, setpoint)
	default:
		p.add(atUsual, "it was %.1f °C at the end, where this heater usually switches off", end)
	}
}

// regular reports whether the heater goes out and lights again at two
// temperatures as far apart as its thermostat's differential. Then those are
// the thermostat's doing, wherever the node's sensor says that they lie: it
// may hang in the draught, and the dial may be off.
func (e *Evidence) regular(o *Options) bool {
	if e.Thermostat == nil || int(e.Usual.N) < o.UsualFrom || int(e.UsualOn.N) < o.UsualFrom {
		return false
	}
	band, swing := e.band(), e.Usual.C-e.UsualOn.C
	missed := min(e.missedUp(), regularLeast*band/2)
	return swing >= regularLeast*band-missed && swing <= regularMost*band+o.BandSlackC
}

// band is the thermostat's differential, K; one where it is not known (common
// practice, no source).
func (e *Evidence) band() float64 { return band(e.Thermostat) }

func band(t *fleet.Thermostat) float64 {
	if d := t.DifferentialC; d > 0 {
		return d
	}
	return 1
}

// What a regular swing is, × the differential: sensors lag, and a fan runs on.
// Common practice, no source.
const (
	regularLeast = 0.6
	regularMost  = 1.5
)

// ranItsCourse reports whether a burn, however short, ended where a regular
// heater's do: a brisk space warms through its band in two minutes.
func (e *Evidence) ranItsCourse(o *Options) bool {
	if !e.Burn.HasTemp || !e.regular(o) {
		return false
	}
	near := min(o.slack(e.Usual)+e.missedUp(), (e.Usual.C-e.UsualOn.C)/2)
	return float64(e.Burn.TempEnd) >= e.Usual.C-near
}

// Warmed reports whether a burn, however short, warmed its space by what a
// thermostat's cycle does.
func Warmed(b *burner.Burn, t *fleet.Thermostat) bool {
	return t != nil && b.HasTemp && float64(b.TempEnd-b.TempStart) >= warmedFrom*band(t)
}

// warmedFrom is the share of a thermostat's differential. Common practice, no
// source.
const warmedFrom = 0.4

// slack is how far from a usual temperature still counts as it.
func (o *Options) slack(u Usual) float64 { return max(o.UsualSlackC, 3*u.Spread) }

// near is how far below a usual temperature still counts as it: no more than
// the endings of a steady heater ever differed by.
func (o *Options) near(u Usual) float64 {
	slack := o.slack(u)
	if int(u.N) < o.NearFrom || u.Step == 0 {
		return slack
	}
	return min(slack, max(o.NearC, o.NearSpreads*u.Spread, o.NearSteps*u.Step))
}

// aftermath looks at how far the temperature fell until the heater lit again.
// Once something else keeps it off, staying out says nothing.
func (p *points) aftermath(e *Evidence, o *Options) {
	held := e.HeldAfter > 0 && e.HeldAfter < e.Known // else it has not come yet
	if e.PlannedWindow || e.PlannedStop {
		return
	}
	if held {
		if e.ChilledAfter > 0 && e.ChilledAfter < e.HeldAfter && !(e.blind(o) && e.Pace.usualOut(min(e.Known, e.HeldAfter), e.Burn.Gap, o)) {
			p.add(grewCold, "it had stayed out for %s in the cold before anything else kept it off", span(e.ChilledAfter))
		}
		return
	}
	if !e.Burn.HasTemp || !e.HasLowest {
		if e.Relit && !e.Refilled && e.RelitAfter < e.soon(o) {
			p.add(relitSoon, "it lit again after %s", span(e.RelitAfter))
		}
		return
	}
	switch {
	case e.blind(o) && e.asUsual(o) && e.prompt(o):
		p.add(cycled, "it lit again after %s, as it usually does", span(e.RelitAfter))
	case int(e.UsualOn.N) >= o.UsualFrom:
		p.cutIn(e, float64(e.Lowest), o)
	default:
		p.fell(e, float64(e.Burn.TempEnd-e.Lowest), o)
	}
}

// asUsual reports whether it lit again after as long as it usually does.
func (e *Evidence) asUsual(o *Options) bool {
	return e.Relit && e.Pace.usualOut(e.RelitAfter, e.Burn.Gap, o)
}

// cutIn compares how cold it got with where this heater usually lights again.
func (p *points) cutIn(e *Evidence, low float64, o *Options) {
	on, slack := e.UsualOn.C, o.slack(e.UsualOn)
	missed := e.missedDown() + e.stream(o)
	if e.blind(o) && int(e.Usual.N) >= o.UsualFrom { // it gets colder than any reading shows
		on = min(on, e.Usual.C-e.band())
	}
	cold := on - slack - e.missedCold()
	if e.Relit && low < cold && low > float64(e.Burn.TempEnd)-noiseC {
		low = float64(max(e.Lowest, e.Relight)) // it was coldest as it went out, and its sensor had not caught up
	}
	switch {
	case low < cold && low > float64(e.Burn.TempEnd)-noiseC: // it got no colder
	case low < cold && e.dipped(o):
	case low < cold || !e.prompt(o):
		p.add(grewCold, "it then got down to %.1f °C without lighting; it usually lights again at %.1f °C", low, on)
	case e.Relit && (min(low, float64(e.Relight))-max(e.unseen(), missed) > on+slack || e.RelitAfter < e.soon(o)):
		p.add(relitSoon, "it lit again after %s, at %.1f °C; it usually does at %.1f °C", span(e.RelitAfter), low, on)
	case e.Relit:
		p.add(cycled, "it lit again at %.1f °C, where it usually does", low)
	}
}

// unseen is how much colder, °C, it may have got between the last reading and
// the relight: at the rate it had fallen by until then, at most that much again.
func (e *Evidence) unseen() float64 {
	drop, seen := float64(e.Burn.TempEnd-e.Lowest), e.RelitAfter-e.LowestAge
	if drop <= 0 || e.LowestAge <= 0 {
		return 0
	}
	if seen <= e.LowestAge {
		return drop
	}
	return drop * e.LowestAge.Seconds() / seen.Seconds()
}

// soon is how short a time out no thermostat makes, as far as is known of this
// heater.
func (e *Evidence) soon(o *Options) time.Duration {
	s, known := e.Pace.Out.Usual(o.UsualFrom)
	if !known {
		return o.RelightSoon
	}
	return min(o.RelightSoon, time.Duration(usualLeast*s*float64(time.Second)))
}

func (p *points) fell(e *Evidence, drop float64, o *Options) {
	band := e.band()
	missed := e.missedUp() + e.missedDown()
	least := max(drop, float64(e.Burn.TempEnd-e.Relight)) // it may have got colder between the last two readings
	switch {
	case drop > 1.5*band+o.BandSlackC:
		p.add(grewCold, "it then got %.1f °C colder without lighting, past the differential of %.1f °C", drop, band)
	case e.Refilled: // then a person lit it
	case e.Relit && (least+missed < cooledLeast*band || e.RelitAfter < e.soon(o)):
		p.add(relitSoon, "it lit again after %s, only %.1f °C colder", span(e.RelitAfter), math.Max(0, drop))
	case e.Relit && least+missed >= 0.6*band && drop <= 1.25*band+0.7*o.BandSlackC:
		p.add(cycled, "it lit again once it was %.1f °C colder", drop)
	}
}

// span writes a duration as people say it.
func span(d time.Duration) string {
	switch {
	case d < 2*time.Minute:
		return fmt.Sprintf("%.0f s", d.Seconds())
	case d < 2*time.Hour:
		return fmt.Sprintf("%.0f min", d.Minutes())
	}
	return strings.TrimSuffix(fmt.Sprintf("%.1f", d.Hours()), ".0") + " h"
}
