package config

import (
	"cmp"
	"fmt"
	"net"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"

	"heaterd/alerts/exposure"
	"heaterd/alerts/fleet"
	"heaterd/alerts/notify"
)

// Summary says in a few lines what a configuration comes to: what is looked
// after, the limits in force, the plan, who is told, and every warning.
func Summary(cfg *Config) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s is accepted\n\n", cfg.Path)
	summarizeService(&b, cfg)
	for _, s := range cfg.Fleet.Sites {
		summarizeSite(&b, s, cfg.Fleet.Heaters)
	}
	summarizePlan(&b, cfg)
	summarizeOnCall(&b, cfg.Notify)
	if len(cfg.Warnings) > 0 {
		fmt.Fprintf(&b, "\n%s:\n", count(len(cfg.Warnings), "warning"))
		for _, w := range cfg.Warnings {
			fmt.Fprintf(&b, "  %s\n", w)
		}
	}
	return b.String()
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

func summarizeService(b *strings.Builder, cfg *Config) {
	w := tabwriter.NewWriter(b, 0, 0, 2, ' ', 0)
	defer w.Flush()
	fmt.Fprintf(w, "store\t%s\n", cfg.Store.Path)
	if cfg.Broker != nil {
		fmt.Fprintf(w, "broker\t%s as %s\n", cfg.Broker.URL, cfg.Broker.ClientID)
	} else {
		fmt.Fprintf(w, "broker\tthe embedded one on %s\n", net.JoinHostPort(cfg.Embedded.Host, strconv.Itoa(cfg.Embedded.Port)))
	}
	for _, s := range cfg.Sources {
		fmt.Fprintf(w, "source\t%s (%s)\n", s.Filter, s.Format)
	}
	fmt.Fprintf(w, "pages\t%s, %s\n", cfg.HTTP.Listen, count(len(cfg.HTTP.Users), "user"))
	if cfg.History != nil {
		fmt.Fprintf(w, "history\t%s, bucket %s\n", cfg.History.URL, cfg.History.Bucket)
	}
	fmt.Fprintf(w, "in time\treadings up to %s late; older ones up to %s count but wake nobody\n", short(cfg.Lateness), short(cfg.Backlog))
}

func summarizeSite(b *strings.Builder, s fleet.Site, heaters []fleet.Heater) {
	fmt.Fprintf(b, "\nsite %s (%s), %s\n", s.ID, s.Name, s.Zone)
	summarizeProcedure(b, s)
	fmt.Fprintf(b, "  carbon monoxide: %s, dose for %s activity\n", describeLimits(s.Limits), s.Activity)
	for _, sp := range s.Spaces {
		fmt.Fprintf(b, "  space %s%s\n", sp.ID, describeSpace(sp))
		for _, h := range heaters {
			if h.Site == s.ID && h.Space == sp.ID {
				fmt.Fprintf(b, "    heater %s%s\n", h.ID, describeHeater(h))
			}
		}
	}
}

// summarizeProcedure shows how the site's procedure begins, for it comes first
// in every alarm about people, and whom the site names.
func summarizeProcedure(b *strings.Builder, s fleet.Site) {
	first, rest, more := strings.Cut(strings.TrimSpace(s.Procedure), "\n")
	if first == "" {
		first = "none is written down; alarms say so"
	} else if more {
		first = fmt.Sprintf("%s (and %s)", first, count(1+strings.Count(rest, "\n"), "more line"))
	}
	fmt.Fprintf(b, "  procedure: %s\n", first)
	for _, c := range s.Contacts {
		fmt.Fprintf(b, "  contact: %s\n", strings.Join(slices.DeleteFunc([]string{c.Name, c.Phone, c.Email}, func(v string) bool { return v == "" }), ", "))
	}
}

// describeLimits names each figure of a set with its unit.
func describeLimits(l exposure.Limits) string {
	figures := []string{}
	for _, f := range []struct {
		ppm  float64
		name string
	}{{l.CeilingPPM, "ceiling"}, {l.ShortTermPPM, "over 15 min"}, {l.ShiftPPM, "over 8 h"}} {
		if f.ppm > 0 {
			figures = append(figures, plainNumber(f.ppm)+" ppm "+f.name)
		}
	}
	if l.DosePercent > 0 {
		figures = append(figures, plainNumber(l.DosePercent)+" % carboxyhaemoglobin")
	}
	return fmt.Sprintf("%s: %s (%s)", l.Name, strings.Join(figures, ", "), l.Source)
}

func describeSpace(s fleet.Space) string {
	var b strings.Builder
	if s.VolumeM3 > 0 {
		fmt.Fprintf(&b, ", %s m³", plainNumber(s.VolumeM3))
	}
	if s.ProtectAboveC != nil {
		fmt.Fprintf(&b, ", kept above %s °C", plainNumber(*s.ProtectAboveC))
	}
	if s.ProtectBelowC != nil {
		fmt.Fprintf(&b, ", kept below %s °C", plainNumber(*s.ProtectBelowC))
	}
	return b.String()
}

func describeHeater(h fleet.Heater) string {
	s := ", node " + cmp.Or(string(h.Node), "none")
	for _, f := range []struct {
		n    float64
		unit string
	}{{h.InputKW, "kW"}, {h.BurnLPerH, "L/h"}, {h.TankL, "L tank"}} {
		if f.n > 0 {
			s += ", " + plainNumber(f.n) + " " + f.unit
		}
	}
	if th := h.Thermostat; th != nil {
		s += fmt.Sprintf(", thermostat %s °C with differential %s °C", plainNumber(th.SetpointC), plainNumber(th.DifferentialC))
	}
	if h.Dusty {
		s += ", dusty"
	}
	return s
}

func summarizePlan(b *strings.Builder, cfg *Config) {
	fmt.Fprintf(b, "\nservice plan %s, %s\n", cfg.Plan.Name, count(len(cfg.Plan.Tasks), "task"))
	for _, t := range cfg.Plan.Tasks {
		fmt.Fprintf(b, "  %s: %s (%s)\n", t.ID, t.Title, t.Source)
	}
}

func summarizeOnCall(b *strings.Builder, s notify.Settings) {
	if len(s.People) == 0 {
		fmt.Fprintf(b, "\nnobody on call: alarms show on the pages only\n")
		return
	}
	fmt.Fprintf(b, "\non call: %s, fallback %s\n", strings.Join(peopleIDs(s.People), ", "), s.Fallback)
	for _, step := range s.Steps {
		via := ""
		if len(step.Via) > 0 {
			via = " by " + strings.Join(step.Via, ", ")
		}
		fmt.Fprintf(b, "  after %s: %s%s\n", short(step.After), step.Who, via)
	}
}
