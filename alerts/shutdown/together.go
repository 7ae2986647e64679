package shutdown

import (
	"fmt"
	"math"
	"strings"
	"time"

	"heaterd/alerts/outcome"
	"heaterd/ingest/reading"
)

// Other is the end of a burn of another heater of the site.
type Other struct {
	Heater               string
	EndLow, End, EndHigh reading.Instant
	Ending               outcome.Ending  // what explains it by itself
	Plain                bool            // Verdict.Plain of that
	CallTaken            bool            // Evidence.CallTaken of that
	Failing              bool            // its flame had hardly held, nor had the one before
	Relit                reading.Instant // when it lit again; 0: not yet
}

// company is what the other heaters did as one went out.
type company struct {
	lit   int           // heaters lit just before that had no reason of their own
	names []string      // went out with it, and nothing else explains it
	mute  []string      // were lit, and their units fell silent with it
	maybe []string      // went out with it, and may have been satisfied
	plain int           // went out with it, and were
	apart time.Duration // between it and one of names, at most
	near  bool          // nothing tells that one of names went out at another moment
	back  bool          // it lit again together with one of names
}

// siteWide looks for other heaters that went out with this one: all that
// were lit, at least two of them unexplained, or several unexplained ones.
// One that may have been satisfied counts as unexplained where all went out in
// the same seconds, or lit again together. A heater whose flame does not hold
// goes out so often that it does so beside others by chance, and says nothing of
// those that had burned longer.
func siteWide(e *Evidence, p points, o *Options) (text string, shared bool) {
	if len(e.MainsWith) > 0 && !e.mainsElsewhere() {
		return "", false // they lost the mains, and here they were there
	}
	c := e.company(o)
	names, together := c.names, 1+len(c.names)+len(c.mute)+len(c.maybe)+c.plain
	all := together >= c.lit
	failed := !p.certain && p.sum < o.Needed
	if all && failed {
		names = append(names, c.maybe...)
	}
	unexplained := len(names) + len(c.mute)
	if failed || all && e.doubtful(&c, p, o) {
		unexplained++
	}
	if unexplained < 2 || together < min(c.lit, o.Several) || len(names) == 0 && len(c.mute) < 2 { // one unit falls silent by itself
		return "", false
	}
	return c.text(names), true
}

// doubtful reports whether a heater that may have been satisfied went out too
// nearly with unexplained ones for that.
func (e *Evidence) doubtful(c *company, p points, o *Options) bool {
	return !p.certain && (c.back || p.sum < o.Certain && c.near)
}

func (e *Evidence) company(o *Options) company {
	c := company{lit: e.LitAtSite, apart: o.Together, near: true}
	counted := ""
	for i := range e.Others {
		x := &e.Others[i]
		if !e.with(x, o) || x.Heater == counted { // a brisk one may go out twice before another report
			continue
		}
		if e.count(&c, x, o) {
			counted = x.Heater
		}
	}
	return c
}

// count adds another heater; false where it had a reason of its own, or nobody
// saw.
func (e *Evidence) count(c *company, x *Other, o *Options) bool {
	back := e.backWith(x, o)
	switch {
	case x.Ending == outcome.Unknown && e.fellSilentWith(x, o): // what put this one out took its unit as well
		c.mute = append(c.mute, x.Heater)
		return true
	case x.Ending == outcome.Planned, x.Ending == outcome.Unknown, x.Failing && !e.brief(o):
		c.lit--
		return false
	case x.Ending == outcome.Satisfied && (back || e.atOnce(x, o) && (!x.Plain || e.CallTaken(o))):
		c.maybe = append(c.maybe, x.Heater)
		return true
	case x.Ending == outcome.Satisfied:
		c.plain++
		return true
	}
	c.names = append(c.names, x.Heater)
	c.back = c.back || back
	c.apart = max(c.apart, e.apart(x))
	c.near = c.near && e.sameMoment(x, o)
	return true
}

func (c *company) text(names []string) string {
	text := ""
	if len(names) > 0 {
		text = fmt.Sprintf("%s went out within %s of it", strings.Join(names, ", "), span(c.apart))
	}
	if len(c.mute) > 0 {
		text = strings.TrimPrefix(text+"; lit, and their units fell silent with it: "+strings.Join(c.mute, ", "), "; ")
	}
	return text
}

// fellSilentWith reports whether the unit of another lit heater was last heard
// just before this one went out.
func (e *Evidence) fellSilentWith(x *Other, o *Options) bool {
	b := &e.Burn
	return x.EndLow <= b.EndHigh.Add(o.Together) && x.EndLow >= b.EndLow.Add(-b.Gap-o.Together)
}

// with reports whether another ending may have been at the same moment.
func (e *Evidence) with(x *Other, o *Options) bool {
	b := &e.Burn
	return x.EndHigh >= b.EndLow.Add(-o.Together) && x.EndLow <= b.EndHigh.Add(o.Together)
}

// apart is how far apart the two endings are at most.
func (e *Evidence) apart(x *Other) time.Duration {
	return max(x.EndHigh.Sub(e.Burn.EndLow), e.Burn.EndHigh.Sub(x.EndLow))
}

// atOnce reports whether the counters place both endings in the same seconds:
// two thermostats seldom are satisfied so nearly together.
func (e *Evidence) atOnce(x *Other, o *Options) bool { return e.apart(x) <= o.AtOnce }

// sameMoment reports whether both may have been at one moment, as nearly as
// they are placed.
func (e *Evidence) sameMoment(x *Other, o *Options) bool {
	if placed := x.EndHigh.Sub(x.EndLow) + e.Burn.EndHigh.Sub(e.Burn.EndLow); placed <= o.AtOnce {
		return e.atOnce(x, o)
	}
	return e.apart(x) <= o.TogetherSure
}

// backWith reports whether both lit again together, after a while: the mains
// came back. One that burned and stayed out for just as long as it always does
// lit by its own thermostat: two in one air may do so together, cycle by cycle.
func (e *Evidence) backWith(x *Other, o *Options) bool {
	back := e.Burn.End.Add(e.RelitAfter)
	return e.Relit && e.RelitAfter >= o.RelightSoon && x.Relit != 0 && back.Sub(x.Relit).Abs() <= o.BackTogether && !e.keptTime(o)
}

// keptTime reports whether burn and stay out were both as long as they always
// are.
func (e *Evidence) keptTime(o *Options) bool {
	lit, known := e.Pace.Lit.Usual(o.UsualFrom)
	out, knownOut := e.Pace.Out.Usual(o.UsualFrom)
	near := func(s, usual float64) bool { return math.Abs(s-usual) <= timeKept*usual+e.Burn.Gap.Seconds()/2 }
	return known && knownOut && near(e.Burn.Seconds, lit) && near(e.RelitAfter.Seconds(), out)
}

// timeKept is how much, × its usual length, one cycle of a steady heater differs
// from another. Common practice, no source.
const timeKept = 0.15
