package jobsite

import (
	"cmp"
	"fmt"
	"strings"
	"time"
)

// FleetYAML gives the configuration that matches the world: version, sites
// and heaters, the rest left to its defaults. Nobody is on call in it.
func (w *World) FleetYAML() string {
	y := &yaml{}
	y.line(0, "version: 1")
	y.line(0, "sites:")
	for _, site := range w.spec.Sites {
		y.site(site)
	}
	y.line(0, "heaters:")
	for _, site := range w.spec.Sites {
		for _, h := range site.Heaters {
			y.heater(site.ID, h)
		}
	}
	y.line(0, "service_plan: default")
	return y.String()
}

type yaml struct{ strings.Builder }

func (y *yaml) line(depth int, format string, args ...any) {
	y.WriteString(strings.Repeat("  ", depth))
	fmt.Fprintf(y, format, args...)
	y.WriteByte('\n')
}

// word writes a key of a site with a text value when there is one.
func (y *yaml) word(key, value string) {
	if value != "" {
		y.line(2, "%s: %q", key, value)
	}
}

func (y *yaml) site(s SiteSpec) {
	y.line(1, "- id: %s", s.ID)
	y.word("name", s.Name)
	y.word("time_zone", s.Zone)
	y.word("limits", s.Limits)
	y.word("activity", s.Activity)
	if s.Procedure != "" {
		y.line(2, "procedure: |")
		for l := range strings.SplitSeq(strings.TrimSpace(s.Procedure), "\n") {
			y.line(3, "%s", l)
		}
	}
	if s.Contact != "" {
		y.line(2, "contacts: [{ name: %q, phone: %q }]", s.Contact, s.Phone)
	}
	y.line(2, "spaces:")
	for _, sp := range s.Spaces {
		y.space(sp)
	}
	if len(s.PlannedOff) > 0 {
		y.line(2, "planned_off:")
	}
	for _, o := range s.PlannedOff {
		y.line(3, "- { days: [%s], from: %q, to: %q }", dayWords(o.Days), clockWord(o.From), clockWord(o.To))
	}
}

func (y *yaml) space(s SpaceSpec) {
	protect := ""
	if s.ProtectAboveC != nil {
		protect = fmt.Sprintf(", protect_above_c: %g", *s.ProtectAboveC)
	}
	y.line(3, "- { id: %s, name: %q, volume_m3: %g%s }", s.ID, cmp.Or(s.Name, s.ID), s.VolumeM3, protect)
}

func (y *yaml) heater(site string, h HeaterSpec) {
	y.line(1, "- id: %s", h.ID)
	y.line(2, "node: %s", h.Node.ID)
	y.line(2, "site: %s", site)
	y.line(2, "space: %s", h.Space)
	y.line(2, "input_kw: %g", h.InputKW)
	y.line(2, "burn_l_per_h: %g", h.BurnLPerH)
	y.line(2, "tank_l: %g", h.TankL)
	if t := h.Thermostat; t != nil {
		y.line(2, "thermostat: { setpoint_c: %g, differential_c: %g }", t.SetpointC, t.DifferentialC)
	}
	y.line(2, "dusty: %t", h.Dusty)
	y.line(2, "hours_at_start: %g", h.HoursAtStart)
}

func dayWords(days []time.Weekday) string {
	var words []string
	for _, d := range days {
		words = append(words, strings.ToLower(d.String()[:3]))
	}
	return strings.Join(words, ", ")
}

func clockWord(d time.Duration) string {
	return fmt.Sprintf("%02d:%02d", int(d.Hours()), int(d.Minutes())%60)
}
