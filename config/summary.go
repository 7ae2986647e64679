package config

import (
	"cmp"
	"fmt"
	"net"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	"heaterd/alerts/exposure"
	"heaterd/alerts/fleet"
	"heaterd/ingest/source"
)

// Summary says in a few lines what a configuration comes to: what is looked
// after, the limits in force, the plan, who is told, and every warning.
func Summary(cfg *Config) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s is accepted\n\n", cfg.Path)
	summarizeService(&b, cfg)
	for _, s := range cfg.Fleet.Sites {
		summarizeSite(&b, s, cfg)
	}
	summarizePlan(&b, cfg)
	summarizeCalls(&b, cfg)
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
	fmt.Fprintf(w, "store\t%s, %s\n", cfg.Store.Path, describeRetention(cfg.Store))
	fmt.Fprintf(w, "broker\t%s\n", describeBroker(cfg))
	for _, s := range cfg.Sources {
		fmt.Fprintf(w, "source\t%s (%s)\n", s.Filter, s.Format)
	}
	fmt.Fprintf(w, "pages\t%s, %s\n", cfg.HTTP.Listen, describeUsers(cfg.HTTP))
	if cfg.History != nil {
		fmt.Fprintf(w, "history\t%s, bucket %s\n", cfg.History.URL, cfg.History.Bucket)
	}
	fmt.Fprintf(w, "in time\treadings up to %s late; older ones up to %s count but wake nobody\n", short(cfg.Lateness), short(cfg.Backlog))
}

func describeRetention(s Store) string {
	if s.ReadingsDays == 0 {
		return "all readings for ever"
	}
	return fmt.Sprintf("all readings for %s, of older ones what run-hours rest on", count(s.ReadingsDays, "day"))
}

func describeBroker(cfg *Config) string {
	if b := cfg.Broker; b != nil {
		user := "without a user name"
		if b.Username != "" {
			user = "user " + b.Username
		}
		return fmt.Sprintf("%s as %s, %s", b.URL, b.ClientID, user)
	}
	e := cfg.Embedded
	who := "anyone on this machine may publish"
	if len(e.Users) > 0 {
		who = count(len(e.Users), "user")
	}
	return fmt.Sprintf("the one inside heaterd, on %s, %s; what waits is in %s", net.JoinHostPort(e.Host, strconv.Itoa(e.Port)), who, e.Dir)
}

func describeUsers(h HTTP) string {
	if len(h.Users) == 0 {
		return "no users: everyone who reaches them may do everything"
	}
	return count(len(h.Users), "user")
}

func summarizeSite(b *strings.Builder, s fleet.Site, cfg *Config) {
	fmt.Fprintf(b, "\nsite %s (%s), time zone %s\n", s.ID, s.Name, s.Zone)
	summarizeProcedure(b, s)
	for _, c := range s.Contacts {
		fmt.Fprintf(b, "  contact: %s\n", describeContact(c, cfg.Notify))
	}
	summarizeLimits(b, s)
	for _, off := range s.PlannedOff {
		fmt.Fprintf(b, "  planned off: %s\n", describeOff(off))
	}
	for _, sp := range s.Spaces {
		fmt.Fprintf(b, "  space %s%s\n", sp.ID, describeSpace(sp))
		for _, h := range cfg.Fleet.Heaters {
			if h.Site == s.ID && h.Space == sp.ID {
				fmt.Fprintf(b, "    heater %s%s\n      unit: %s\n", h.ID, describeHeater(h), describeUnit(h, cfg.Sources))
			}
		}
	}
}

// summarizeProcedure shows how the site's procedure begins, for it comes first
// in every alarm about people.
func summarizeProcedure(b *strings.Builder, s fleet.Site) {
	first, rest, more := strings.Cut(strings.TrimSpace(s.Procedure), "\n")
	if first == "" {
		first = "none is written down; alarms say so"
	} else if more {
		first = fmt.Sprintf("%s (and %s)", first, count(1+strings.Count(rest, "\n"), "more line"))
	}
	fmt.Fprintf(b, "  procedure: %s\n", first)
}

// summarizeLimits names each figure of a set with its unit, and where the
// figures come from.
func summarizeLimits(b *strings.Builder, s fleet.Site) {
	l := s.Limits
	fmt.Fprintf(b, "  limits for carbon monoxide: %s\n", l.Name)
	for _, f := range []struct {
		ppm  float64
		name string
	}{{l.CeilingPPM, "at any time (ceiling)"}, {l.ShortTermPPM, "averaged over 15 min"}, {l.ShiftPPM, "averaged over 8 h"}} {
		if f.ppm > 0 {
			fmt.Fprintf(b, "    %s ppm %s\n", plainNumber(f.ppm), f.name)
		}
	}
	if l.CeilingPPM == 0 {
		fmt.Fprintf(b, "    no ceiling: no single reading calls anybody, CO that rises does on its way to %s\n", risingTo(l))
	}
	if l.DosePercent > 0 {
		fmt.Fprintf(b, "    %s %% carboxyhaemoglobin estimated for %s activity (no occupational standard sets this)\n", plainNumber(l.DosePercent), s.Activity)
	}
	fmt.Fprintf(b, "    source: %s; %s\n", l.Source, cmp.Or(l.Verified, "figures as written in this file"))
}

// risingTo is where CO is told to be on its way to without a ceiling.
func risingTo(l exposure.Limits) string {
	if l.ShortTermPPM > 0 {
		return fmt.Sprintf("%s ppm", plainNumber(l.ShortTermPPM))
	}
	return fmt.Sprintf("%s ppm, the ceiling of us-niosh", plainNumber(l.RisingPPM()))
}

func describeOff(o fleet.OffHours) string {
	days := make([]string, len(o.Days))
	for i, d := range o.Days {
		days[i] = dayNames[d]
	}
	return fmt.Sprintf("%s from %s to %s", strings.Join(days, ", "), wallClock(o.From), wallClock(o.To))
}

func wallClock(d time.Duration) string {
	return fmt.Sprintf("%02d:%02d", int(d.Hours()), int(d.Minutes())%60)
}

func describeSpace(s fleet.Space) string {
	var b strings.Builder
	if s.Name != s.ID {
		fmt.Fprintf(&b, " (%s)", s.Name)
	}
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

// describeUnit says where the messages of a heater's unit are expected.
func describeUnit(h fleet.Heater, sources source.Sources) string {
	if h.Node == "" {
		return "none: nothing is known of this heater"
	}
	topics := sources.Expected(h.Site, string(h.Node))
	return fmt.Sprintf("%s, expected at %s", h.Node, strings.Join(topics, " or "))
}

func describeHeater(h fleet.Heater) string {
	s := ""
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
