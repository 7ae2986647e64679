package fold

import (
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/exposure"
	"heaterd/alerts/fleet"
	"heaterd/alerts/outcome"
	"heaterd/alerts/service"
	"heaterd/ingest/reading"
)

// View is what is known now, for pages, the API and metrics. It shares
// nothing with the engine that the engine still changes.
type View struct {
	Begin   reading.Instant // arrival of the first line of the log; 0: there is none
	At      reading.Instant
	Sites   []SiteView
	Heaters []HeaterView
	Alarms  []alarm.Alarm // not normal, in the book's order
}

// SiteView is one jobsite now.
type SiteView struct {
	fleet.Site
	Silent bool // no node of the site is heard
	Spaces []SpaceView
}

// SpaceView is the air and warmth of one space now.
type SpaceView struct {
	fleet.Space
	Site       string
	HasCO      bool
	COPPM      float64 // highest of the sensors' latest measurements, ppm
	COAt       reading.Instant
	COHeard    bool                // a node that measures CO here is not silent
	Air        exposure.Figures    // each figure by the sensor where it is worst
	Forecast   exposure.Forecast   // the soonest of the sensors; only of those where CO is well above nothing
	AirChanges *exposure.AirChange // nil: no decay good enough yet
	Source     string              // heater the CO goes with; empty: none stands out
	HasTemp    bool
	TempC      float64 // lowest of the sensors' latest readings
	TempAt     reading.Instant
	TempHeard  bool // a node that measures temperature here is not silent
	HasHarm    bool // the time until the protect limit is known
	HarmEarly  time.Duration
	HarmLate   time.Duration // 0: it may never get that cold
	Heaters    []string
}

// HeaterView is one heater now.
type HeaterView struct {
	fleet.Heater
	Configured reading.NodeID  // the node by the configuration; Node is the one on it now
	Heard      reading.Instant // arrival of the last telemetry of Node; 0 never
	Fitted     reading.Instant // when Node was fitted, where it has not been heard since; else 0
	Silent     bool
	Lit        bool
	LitSince   reading.Instant // start of the burn in progress
	LitSeen    reading.Instant // newest reading of it: what came since nobody knows yet
	Last       *outcome.Burn   // the burn that ended last, as judged by what is known
	Known      reading.Sample  // last value of every quantity that Node ever sent
	Hours      outcome.Hours
	RunHours   float64 // h seen since the node was fitted, without corrections by hour meter: grows steadily
	HasLevel   bool
	Level      float64         // ratio of the tank, by reading or estimate
	OutOfWork  bool            // taken out of service by a person
	Stop       bool            // a planned stop runs
	StopUntil  reading.Instant // 0: none runs
	StopBy     string          // who said so
	NextStop   reading.Instant // when the next planned stop begins; 0: none is to come
	NextUntil  reading.Instant // when that ends
	NextBy     string          // who said so
	Standings  []service.Standing
	Endings    map[outcome.Ending]int // endings so far, as first judged
	Offset     time.Duration          // correction of the node's clock in force
	Sooty      bool                   // its readings often show no flame though it burns
	Trend      *outcome.Trend         // of its unexplained endings; nil: too few to judge
}

// View takes stock.
func (e *Engine) View() View {
	v := View{Begin: e.begin, At: e.now, Alarms: e.book.Live()}
	for _, s := range e.sites {
		v.Sites = append(v.Sites, e.viewSite(s))
	}
	for _, h := range e.heaters {
		v.Heaters = append(v.Heaters, e.viewHeater(h))
	}
	return v
}

func (e *Engine) viewSite(s *site) SiteView {
	out := SiteView{Site: s.Site, Silent: len(s.heaters) > 0}
	for _, h := range s.heaters {
		out.Silent = out.Silent && h.silentAt(e.now)
	}
	for _, sp := range s.spaces {
		out.Spaces = append(out.Spaces, e.viewSpace(sp))
	}
	return out
}

func (e *Engine) viewSpace(s *space) SpaceView {
	out := SpaceView{Space: s.Space, Site: s.site.ID}
	for _, h := range s.heaters {
		out.Heaters = append(out.Heaters, h.ID)
		out.air(h, e.now)
		out.warmth(h, e.now)
	}
	out.AirChanges = s.airChanges()
	out.Source = s.source()
	return out
}

func (v *SpaceView) air(h *heater, now reading.Instant) {
	k, a := &h.Live.Known, &h.Live.Air
	if !k.Carries(reading.CO) {
		return
	}
	v.COHeard = v.COHeard || h.speaks(now)
	if ppm, at := h.Live.lastPPM(); !v.HasCO || ppm > v.COPPM {
		v.COPPM, v.COAt = ppm, at
	}
	f := a.At(now)
	if f.PPM >= h.rules.ForecastFrom {
		v.Forecast.Soonest(a.Forecast(now, h.site.Limits))
	}
	if v.HasCO {
		f.Worst(&v.Air)
	}
	v.Air, v.HasCO = f, true
}

// speaks reports whether the unit on the heater was heard, and is not silent: one
// that was just fitted has its time to be, and says nothing of the air meanwhile.
func (h *heater) speaks(now reading.Instant) bool {
	return h.node != "" && h.Packs.Last != 0 && !h.silentAt(now)
}

func (v *SpaceView) warmth(h *heater, now reading.Instant) {
	k := &h.Live.Known
	if !k.Carries(reading.Temp) {
		return
	}
	v.TempHeard = v.TempHeard || h.speaks(now)
	if v.HasTemp && float64(k.Temp) >= v.TempC {
		return
	}
	v.HasTemp, v.TempC, v.TempAt = true, float64(k.Temp), k.TempAt
	v.HarmEarly, v.HarmLate, v.HasHarm = h.harmAt(now)
}

func (e *Engine) viewHeater(h *heater) HeaterView {
	spec := h.Heater
	spec.Node = h.node
	v := HeaterView{
		Heater: spec, Configured: h.Node, Silent: h.node != "" && h.silentAt(e.now),
		Known: h.Live.Known.Sample, Hours: h.hoursOutcome(h.written(e.now), e.now), RunHours: h.Live.Burner.HoursAt(e.now).Run,
		OutOfWork: e.book.Out(h.ID), Standings: h.asked(e.now), Endings: h.tally(),
	}
	v.Heard, v.Fitted = h.lastWord()
	if s := h.stopNow(e.now); s != nil {
		v.Stop, v.StopUntil, v.StopBy = true, s.To, s.By
	}
	if s := h.stopNext(e.now); s != nil {
		v.NextStop, v.NextUntil, v.NextBy = s.From, s.To, s.By
	}
	v.Offset, _ = h.Clock.Skewed()
	v.Sooty = h.Live.Dims.often(e.now)
	if t, ok := h.trend(e.now); ok {
		v.Trend = &t
	}
	v.Level, v.HasLevel = h.level(e.now)
	if b, lit := h.Live.Burner.Current(); lit {
		v.Lit, v.LitSince, v.LitSeen = true, b.Start, b.End
	}
	if h.Judged.Done {
		b := burnOutcome(h, &h.Live.Last, h.Judged.Verdict)
		v.Last = &b
	}
	return v
}

// asked tells where the work stands: pages and scrapes ask far more often
// than it moves.
func (h *heater) asked(now reading.Instant) []service.Standing {
	if h.stand == nil && now != 0 {
		h.stand = h.standings(now)
	}
	return h.stand
}

// tally counts the endings, as first judged.
func (h *heater) tally() map[outcome.Ending]int {
	out := make(map[outcome.Ending]int, len(h.Endings))
	for i, why := range outcome.Endings() {
		if h.Endings[i] > 0 {
			out[why] = int(h.Endings[i])
		}
	}
	return out
}
