package dashboards

import (
	"context"
	"math"
	"slices"
	"strings"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fleet"
	"heaterd/alerts/fold"
	"heaterd/alerts/wording"
	"heaterd/ingest/reading"
)

// alarmView is one alarm as pages show it.
type alarmView struct {
	*alarm.Alarm
	At         *fold.SiteView
	Text       string
	Label      string // what it is about, in a few words
	Zone       *time.Location
	Now        reading.Instant
	AckedBy    string   // as people say it
	Procedure  []string // for alarms that concern people, the site's or what to do without one
	Above      bool     // the procedure stands further up on the same page
	CanAck     bool
	CanShelve  bool
	CanRelease bool // end the shelving
	CanReset   bool
	LatchWaits bool // latched, acknowledgement comes first
	MaxShelve  time.Duration
	CauseTitle string   // of the alarm it follows from
	Several    []roomed // for an alarm of several heaters of a site: which, and where
	Present    *float64 // for alarms about air: the figure the alarm is about as it is now; nil: not known
}

// noProcedure stands where a site gave none.
const noProcedure = "The site has put no procedure here. Ask the site's person in charge now, before anything else."

func (p *pages) viewAlarm(s *Stock, a *alarm.Alarm) alarmView {
	site := s.site(a.Site)
	v := alarmView{Alarm: a, At: site, Zone: site.Zone, Now: s.At, Text: textHere(*a, &site.Site), Label: s.label(a), AckedBy: p.o.Name(a.AckedBy)}
	if a.Kind.ConcernsPeople() {
		v.Procedure, v.Present = procedure(site), present(s.space(a.Site, a.Space), a.Kind)
	}
	v.Several = s.several(a)
	v.CauseTitle = a.Cause
	if cause := s.alarms[a.Cause]; cause != nil {
		v.CauseTitle = s.label(cause)
	}
	v.acts()
	return v
}

// roomed is a heater with the space it stands in, as people say it.
type roomed struct{ ID, Room string }

// several lists the heaters of an alarm that is about several of a site.
func (s *Stock) several(a *alarm.Alarm) []roomed {
	var out []roomed
	for _, id := range a.Findings.Heaters {
		if h := s.heaters[id]; h != nil && several(a, h) {
			out = append(out, roomed{id, s.spaceName(h.Site, h.Space)})
		}
	}
	return out
}

// textNow words an alarm anew, for programs: the text that was kept says how it
// was when it was sent. Both say who holds it back, and give the procedure.
func textNow(a alarm.Alarm, site *fleet.Site) string { return wording.Told(wording.Of(a, site)) }

// textHere is the same on a page: the procedure, which stands above what
// concerns people, is not pointed to; who holds it back, and why, stands beside.
func textHere(a alarm.Alarm, site *fleet.Site) string {
	return wording.Whole(factsNow(a, site), a.Kind.ConcernsPeople())
}

func factsNow(a alarm.Alarm, site *fleet.Site) wording.Facts {
	f := wording.Of(a, site)
	if f.State == alarm.Shelved || f.State == alarm.Suppressed || f.State == alarm.OutOfService {
		f.State, f.HeldBy, f.Why = "", "", ""
	}
	return f
}

func procedure(site *fold.SiteView) []string {
	var out []string
	for l := range strings.Lines(site.Procedure) {
		if l = strings.TrimSpace(l); l != "" {
			out = append(out, l)
		}
	}
	if len(out) == 0 {
		return []string{noProcedure}
	}
	return out
}

// acts says what can be done with the alarm in its state; the alarm book has
// the last word.
func (v *alarmView) acts() {
	r := rules[v.Kind]
	v.MaxShelve = r.MaxShelve
	if v.Kind == alarm.HeaterOutOfService {
		return
	}
	v.CanAck = v.Unanswered()
	v.CanRelease = v.State == alarm.Shelved
	v.CanShelve = !r.HighlyManaged && r.MaxShelve > 0 && (v.State == alarm.Unacknowledged || v.State == alarm.Acknowledged || v.State == alarm.Returned)
	v.CanReset = v.State == alarm.Latched && v.Acked
	v.LatchWaits = v.State == alarm.Latched && !v.Acked
}

var rules = func() map[alarm.Kind]alarm.Rule {
	all := map[alarm.Kind]alarm.Rule{}
	for _, r := range alarm.Rules() {
		all[r.Kind] = r
	}
	return all
}()

// Harm writes the time until harm; empty where it is not known.
func (v alarmView) Harm() string {
	switch {
	case !v.Active:
		return ""
	case v.Kind.ConcernsPeople() && v.Kind != alarm.CORising && v.Present != nil && *v.Present < v.Limit:
		return "not ruled out: below the limit at this moment"
	case v.Kind.ConcernsPeople() && v.Kind != alarm.CORising:
		return "now"
	case v.Findings.HasHarm:
		return soon(v.Findings.HarmEarly, v.Findings.HarmLate)
	default:
		return ""
	}
}

// Uncleared reports whether the air was measured below the limit again, which
// does not end the alarm.
func (v alarmView) Uncleared() bool { return v.State == alarm.Latched && v.Value < v.Limit }

// Headline is what the alarm says on a card: of one that waits for its reset
// only what and where: what it waits for stands above it, the figures below.
func (v alarmView) Headline() string {
	if v.Uncleared() {
		return v.Label
	}
	return v.Text
}

// Title is the kind as people say it.
func (v alarmView) Title() string { return wording.Title(v.Kind) }

// present is the figure of the air a kind is about, as it is now; nil where
// no node that measures it is heard.
func present(sp *fold.SpaceView, k alarm.Kind) *float64 {
	if sp == nil || !sp.HasCO || !sp.COHeard {
		return nil
	}
	figures := map[alarm.Kind]float64{
		alarm.COCeiling: sp.COPPM, alarm.CORising: sp.COPPM, alarm.COShortTerm: sp.Air.TWA15PPM,
		alarm.COShift: sp.Air.TWA8hPPM, alarm.CODose: sp.Air.COHbPercent,
	}
	now, ok := figures[k]
	if !ok {
		return nil
	}
	return &now
}

// AirNow reports whether the worst and the present figure stand on the card
// in place of the value when the alarm last changed.
func (v alarmView) AirNow() bool { return v.HasValue && v.Procedure != nil }

// HasWorst reports whether the worst value was noted.
func (v alarmView) HasWorst() bool { return v.Worst != 0 }

// Fitted reports whether the worst value is about so much, and no reading.
func (v alarmView) Fitted() bool { return wording.Fitted(v.Kind) }

// Shown is the value as it is shown: its name says which way it is.
func (v alarmView) Shown() float64 {
	if v.ofService() || v.Kind == alarm.NodeClock {
		return math.Abs(v.Value)
	}
	return v.Value
}

func (v alarmView) ofService() bool {
	return v.Kind == alarm.ServiceDueSoon || v.Kind == alarm.ServiceDue || v.Kind == alarm.ServiceOverdue
}

// ValueName says what the value is. It is shown only while the alarm holds:
// afterwards it would be how the value was as it came back.
func (v alarmView) ValueName() string {
	switch {
	case v.ofService() && v.Value < 0:
		return "Over by"
	case v.ofService():
		return "Hours left"
	}
	switch v.Kind {
	case alarm.NodeClock:
		if v.Value < 0 { // what must be added
			return "Ahead by"
		}
		return "Behind by"
	case alarm.RuntimeJump:
		return "Jumped by"
	default:
		return "Value"
	}
}

// stateWords are the states as people read them.
var stateWords = map[alarm.State]string{
	alarm.Unacknowledged: "not acknowledged",
	alarm.Acknowledged:   "acknowledged",
	alarm.Returned:       "ended, not acknowledged",
	alarm.Latched:        "not cleared, though below the limit: waits for reset",
	alarm.Shelved:        "shelved",
	alarm.Suppressed:     "suppressed",
	alarm.OutOfService:   "out of service",
	alarm.Normal:         "over",
}

// WhyText says why it is held back.
func (v alarmView) WhyText() string { return v.named(v.Why) }

// named puts the title of the cause in place of its id.
func (v alarmView) named(why string) string {
	if v.Cause == "" {
		return why
	}
	return strings.ReplaceAll(why, v.Cause, v.CauseTitle)
}

// label is an alarm's title with what it is about.
func (s *Stock) label(a *alarm.Alarm) string {
	parts := []string{wording.Title(a.Kind), a.Findings.Task}
	switch {
	case a.Heater != "":
		parts = append(parts, "heater "+a.Heater)
	case a.Node != "":
		parts = append(parts, "sensor unit "+wording.Isolated(a.Node))
	default:
		parts = append(parts, s.place(a))
	}
	return joined(parts...)
}

// place is where an alarm is, as people say it.
func (s *Stock) place(a *alarm.Alarm) string {
	return joined(wording.Isolated(s.spaceName(a.Site, a.Space)), wording.Isolated(s.site(a.Site).Name))
}

// joined puts commas between the parts there are.
func joined(parts ...string) string {
	return strings.Join(slices.DeleteFunc(parts, func(p string) bool { return p == "" }), ", ")
}

// StateText is the state as people read it. Air that nobody measures now is not
// said to be below its limit.
func (v alarmView) StateText() string {
	if v.State == alarm.Latched && v.Present == nil {
		return "not cleared, and not measured now: waits for reset"
	}
	return stateWords[v.State]
}

// Below says since when the air of an uncleared alarm is below the limit.
func (v alarmView) Below() string {
	if v.Present == nil {
		return "not measured now, below the limit when last heard"
	}
	return "below the limit now"
}

// findAlarm finds an alarm that is not over, or one in the ledger.
func (p *pages) findAlarm(ctx context.Context, s *Stock, id string) (alarm.Alarm, error) {
	if a := s.alarms[id]; a != nil {
		return *a, nil
	}
	a, ok, err := p.o.Ledger.Alarm(ctx, id)
	if err == nil && !ok {
		err = notFound("alarm", id)
	}
	return a, err
}

// viewAlarms gives several alarms of one page: a site's procedure stands at
// the first alarm that concerns people, the others point to it.
func (p *pages) viewAlarms(s *Stock, all []*alarm.Alarm, stands ...string) []alarmView {
	out := make([]alarmView, 0, len(all))
	shown := map[string]bool{}
	for _, site := range stands {
		shown[site] = true
	}
	for _, a := range all {
		v := p.viewAlarm(s, a)
		if v.Procedure != nil {
			v.Above = shown[a.Site]
			shown[a.Site] = true
		}
		out = append(out, v)
	}
	return out
}

// where gives the alarms that fit, what holds first, soonest harm first.
func (s *Stock) where(fits func(*alarm.Alarm) bool) []*alarm.Alarm {
	var out []*alarm.Alarm
	for i := range s.Alarms {
		if fits(&s.Alarms[i]) {
			out = append(out, &s.Alarms[i])
		}
	}
	slices.SortStableFunc(out, byHarm)
	return out
}
