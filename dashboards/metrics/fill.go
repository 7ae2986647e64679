package metrics

import (
	"time"

	"heaterd/alerts/exposure"
	"heaterd/alerts/fold"
	"heaterd/ingest/reading"
)

const (
	secondsPerHour = 3600
	percent        = 100
)

// fleet writes the fleet as it is in v.
func (p *page) fleet(v *fold.View) {
	zones := map[string]*time.Location{}
	n := 0
	for i := range v.Sites {
		s := &v.Sites[i]
		zones[s.ID] = s.Zone
		for j := range s.Spaces {
			p.air(n, &s.Spaces[j], &s.Limits)
			n++
		}
	}
	p.spaces = p.spaces[:n]
	for i := range v.Heaters {
		h := &v.Heaters[i]
		l := p.heater(i, h)
		p.burner(h, l)
		p.service(h, l, zones[h.Site])
	}
	p.heaters = p.heaters[:len(v.Heaters)]
	p.alarms(v.Alarms)
}

func (p *page) burner(h *fold.HeaterView, l *heaterLabels) {
	if h.Node != "" && h.Heard != 0 && !(h.Silent && h.OutOfWork) { // put away: it is not missed
		p.add(lastReading, l.byNode, seconds(h.Heard))
	}
	for i, e := range endings {
		p.add(burnsTotal, l.burns[i], float64(h.Endings[e]))
	}
	if h.Node == "" || h.Heard == 0 || h.Silent {
		return
	}
	if h.Known.Carries(reading.Flame) {
		p.add(flameLit, l.heater, truth(h.Lit))
	}
	p.add(runtimeTotal, l.heater, h.RunHours*secondsPerHour)
	if h.HasLevel {
		p.add(fuelRatio, l.heater, h.Level)
	}
}

func (p *page) service(h *fold.HeaterView, l *heaterLabels, zone *time.Location) {
	for i := range h.Standings {
		s := &h.Standings[i]
		t := l.forTask(i, s.Task)
		if s.HoursLeft != nil {
			p.add(serviceRemaining, t.all, *s.HoursLeft*secondsPerHour)
		}
		if s.DueOn != nil {
			p.add(serviceDue, t.all, t.begins(*s.DueOn, zone))
		}
	}
}

// air writes the n-th space. What its sensors measured is left out while none
// of them is heard; the limits stay.
func (p *page) air(n int, s *fold.SpaceView, limits *exposure.Limits) {
	l := p.space(n, s)
	p.limits(l, limits)
	if s.HasCO && s.COHeard {
		p.add(coPPM, l.space, s.COPPM)
		p.add(coAverage, l.short, s.Air.TWA15PPM)
		p.add(coAverage, l.shift, s.Air.TWA8hPPM)
		p.add(coCoverage, l.short, s.Air.Coverage15)
		p.add(coCoverage, l.shift, s.Air.Coverage8h)
		p.add(cohbRatio, l.space, s.Air.COHbPercent/percent)
	}
	if s.AirChanges != nil {
		p.add(airChanges, l.space, s.AirChanges.PerH/secondsPerHour)
	}
	if s.HasTemp && s.TempHeard {
		p.add(temperature, l.space, s.TempC)
	}
}

func (p *page) limits(l *spaceLabels, limits *exposure.Limits) {
	if limits.CeilingPPM > 0 {
		p.add(coLimit, l.ceiling, limits.CeilingPPM)
	}
	if limits.ShortTermPPM > 0 {
		p.add(coLimit, l.shortTerm, limits.ShortTermPPM)
	}
	if limits.ShiftPPM > 0 {
		p.add(coLimit, l.shift8, limits.ShiftPPM)
	}
	if limits.DosePercent > 0 {
		p.add(cohbLimit, l.space, limits.DosePercent/percent)
	}
}

func seconds(i reading.Instant) float64 { return i.Seconds(0) }

func truth(b bool) float64 {
	if b {
		return 1
	}
	return 0
}
