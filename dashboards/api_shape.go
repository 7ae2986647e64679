package dashboards

import (
	"heaterd/alerts/alarm"
	"heaterd/alerts/fold"
	"heaterd/alerts/outcome"
	"heaterd/ingest/reading"
)

// jsonSite is a site in the API.
type jsonSite struct {
	Site     string      `json:"site"`
	Name     string      `json:"name"`
	TimeZone string      `json:"time_zone"`
	Limits   jsonLimits  `json:"limits"`
	Silent   bool        `json:"silent"`
	Spaces   []jsonSpace `json:"spaces"`
}

// jsonLimits are a site's figures for CO; null where the set has none.
type jsonLimits struct {
	Name      string   `json:"name"`
	Ceiling   *float64 `json:"ceiling_ppm"`
	ShortTerm *float64 `json:"short_term_ppm"`
	Shift     *float64 `json:"shift_ppm"`
	Dose      *float64 `json:"dose_percent"`
}

// jsonSpace is a space now.
type jsonSpace struct {
	Site        string            `json:"site"`
	Space       string            `json:"space"`
	Name        string            `json:"name,omitempty"`
	CO          *float64          `json:"co_ppm"`
	COAt        *reading.Instant  `json:"co_at"`
	TWA15       *float64          `json:"twa_15min_ppm"`
	TWA8h       *float64          `json:"twa_8h_ppm"`
	COHb        *float64          `json:"cohb_percent"`
	Coverage15  *float64          `json:"coverage_15min"`
	Coverage8h  *float64          `json:"coverage_8h"`
	AirChanges  *float64          `json:"air_changes_per_h"`
	Temp        *float64          `json:"temp_c"`
	HarmEarlyS  *float64          `json:"too_cold_earliest_s"`
	HarmLateS   *float64          `json:"too_cold_latest_s"`
	Heaters     []string          `json:"heaters"`
	Exposure    *outcome.Exposure `json:"exposure,omitempty"`
	Explanation string            `json:"note"`
}

const areaNote = "area readings, not personal exposure; low CO does not prove safe air; averages count what was not measured at the worse end; time before the first reading counts as no exposure"

// jsonHeater is a heater now.
type jsonHeater struct {
	Heater   string            `json:"heater"`
	Node     reading.NodeID    `json:"node,omitempty"`
	Site     string            `json:"site"`
	Space    string            `json:"space,omitempty"`
	Lit      bool              `json:"lit"`
	LitSince *reading.Instant  `json:"lit_since"`
	Heard    *reading.Instant  `json:"heard"`
	Silent   bool              `json:"silent"`
	Out      bool              `json:"out_of_service"`
	Stop     bool              `json:"planned_stop"`
	Until    *reading.Instant  `json:"planned_stop_until,omitempty"`
	Next     *reading.Instant  `json:"next_planned_stop,omitempty"` // when the next begins
	NextTo   *reading.Instant  `json:"next_planned_stop_until,omitempty"`
	Level    *float64          `json:"fuel_level"`
	CO       *float64          `json:"co_ppm"`
	Temp     *float64          `json:"temp_c"`
	Hours    outcome.Hours     `json:"hours"`
	Last     *outcome.Burn     `json:"last_burn"`
	Service  []outcome.Service `json:"service,omitempty"`
}

// jsonAlarm is an alarm in the contract's words, with what else is known. Its
// text is that of its last change, as it was sent.
type jsonAlarm struct {
	outcome.Alarm
	TextNow  string           `json:"text_now"` // the same with the figures as they are now
	Since    *reading.Instant `json:"since"`
	Active   bool             `json:"active"`
	AckedBy  string           `json:"acknowledged_by,omitempty"`
	AckedAt  *reading.Instant `json:"acknowledged_at,omitempty"`
	Until    *reading.Instant `json:"shelved_until,omitempty"`
	Why      string           `json:"why,omitempty"`
	Evidence []string         `json:"evidence,omitempty"`
	Checks   []string         `json:"checks,omitempty"`
	Harm     *float64         `json:"to_harm_s"`
	Worst    *float64         `json:"worst,omitempty"` // value while it held
}

func some(known bool, v float64) *float64 {
	if !known {
		return nil
	}
	v = outcome.Figure(v)
	return &v
}

func at(i reading.Instant) *reading.Instant {
	if i == 0 {
		return nil
	}
	return &i
}

func jsonOfSite(s *fold.SiteView, now reading.Instant) jsonSite {
	zone := "UTC"
	if s.Zone != nil {
		zone = s.Zone.String()
	}
	l := s.Limits
	out := jsonSite{
		Site: s.ID, Name: s.Name, TimeZone: zone, Silent: s.Silent, Spaces: []jsonSpace{},
		Limits: jsonLimits{l.Name, some(l.CeilingPPM > 0, l.CeilingPPM), some(l.ShortTermPPM > 0, l.ShortTermPPM), some(l.ShiftPPM > 0, l.ShiftPPM), some(l.DosePercent > 0, l.DosePercent)},
	}
	for i := range s.Spaces {
		out.Spaces = append(out.Spaces, jsonOfSpace(&s.Spaces[i], now))
	}
	return out
}

func jsonOfSpace(s *fold.SpaceView, now reading.Instant) jsonSpace {
	f := s.Air
	out := jsonSpace{
		Site: s.Site, Space: s.ID, Name: s.Name, CO: some(s.HasCO, s.COPPM), TWA15: some(s.HasCO, f.TWA15PPM), TWA8h: some(s.HasCO, f.TWA8hPPM),
		COHb: some(s.HasCO, f.COHbPercent), Coverage15: some(s.HasCO, f.Coverage15), Coverage8h: some(s.HasCO, f.Coverage8h), Temp: some(s.HasTemp, s.TempC),
		HarmEarlyS: some(s.HasHarm, s.HarmEarly.Seconds()), HarmLateS: some(s.HasHarm && s.HarmLate > 0, s.HarmLate.Seconds()), Heaters: s.Heaters,
		Explanation: areaNote,
	}
	if s.HasCO {
		out.COAt = at(s.COAt)
		out.Exposure = exposureOutcome(s, now)
	}
	if s.AirChanges != nil {
		out.AirChanges = some(true, s.AirChanges.PerH)
	}
	return out
}

// exposureOutcome is the whole record of a space in the contract's words.
func exposureOutcome(s *fold.SpaceView, now reading.Instant) *outcome.Exposure {
	f := s.Air
	out := outcome.Exposure{
		Type: "exposure", At: now, Site: s.Site, Space: s.ID, PeakPPM: f.Peak,
		TWA15PPM: f.HighTWA15PPM, TWA8hPPM: f.HighTWA8hPPM, COHbPercent: f.HighCOHbPercent, Coverage: f.Coverage,
	}
	if s.AirChanges != nil {
		out.AirChangesPH = &s.AirChanges.PerH
	}
	out = out.Rounded()
	return &out
}

func jsonOfHeater(h *fold.HeaterView, now reading.Instant, withService bool) jsonHeater {
	out := jsonHeater{
		Heater: h.ID, Node: h.Node, Site: h.Site, Space: h.Space, Lit: h.Lit, Heard: at(h.Heard), Silent: h.Silent,
		Out: h.OutOfWork, Stop: h.Stop, Until: at(h.StopUntil), Next: at(h.NextStop), NextTo: at(h.NextUntil), Level: some(h.HasLevel, h.Level), Hours: h.Hours, Last: h.Last,
		CO: some(h.Known.Carries(reading.CO), float64(h.Known.CO)), Temp: some(h.Known.Carries(reading.Temp), float64(h.Known.Temp)),
	}
	if h.Lit {
		out.LitSince = at(h.LitSince)
	}
	if withService {
		for _, s := range h.Standings {
			out.Service = append(out.Service, s.Outcome(h.ID, now))
		}
	}
	return out
}

func (s *Stock) jsonOfAlarm(a *alarm.Alarm) jsonAlarm {
	t := alarm.Transition{At: a.Changed, To: a.State, Alarm: *a}
	out := jsonAlarm{
		Alarm: t.Outcome(), TextNow: textNow(*a, &s.site(a.Site).Site), Since: at(a.Since), Active: a.Active, AckedBy: a.AckedBy, AckedAt: at(a.AckedAt),
		Until: at(a.ShelvedUntil), Why: a.Why, Evidence: a.Findings.Evidence, Checks: a.Findings.Checks,
		Worst: some(a.Worst != 0, a.Worst),
	}
	if a.Active && a.Findings.HasHarm {
		out.Harm = some(true, a.Findings.HarmEarly.Seconds())
	}
	return out
}
