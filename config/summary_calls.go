package config

import (
	"cmp"
	"fmt"
	"net/url"
	"slices"
	"strings"

	"heaterd/alerts/fleet"
	"heaterd/alerts/notify"
)

// summarizeCalls says who is called in which order, and how each is reached.
func summarizeCalls(b *strings.Builder, cfg *Config) {
	s := cfg.Notify
	if len(s.People) == 0 {
		fmt.Fprintf(b, "\nnobody on call: alarms show on the pages only\n")
	} else {
		fmt.Fprintf(b, "\non call, times in %s: %s\n", s.Rota.Zone, describeRota(s.Rota))
		fmt.Fprintf(b, "called until somebody acknowledges, or what is not about the air ends by itself\n")
		for _, step := range s.Steps {
			fmt.Fprintf(b, "  %s: %s\n", describeAfter(step), describeStep(step))
		}
		fmt.Fprintf(b, "  critical, about air: the first step and the contacts of the site at once; after the last step again, up to four hours on, until somebody acknowledges\n")
		fmt.Fprintf(b, "  critical and high: by every channel of a person at once; medium: by the first, by the next where it fails\n")
		fmt.Fprintf(b, "  low: with what else waited, each morning at %s\n", wallClock(s.Digest))
		fmt.Fprintf(b, "  where nobody is on call: %s\n", s.Fallback)
		for _, p := range s.People {
			fmt.Fprintf(b, "  person %s\n", describePerson(p, s))
		}
	}
	for _, c := range s.Channels {
		fmt.Fprintf(b, "  channel %s: %s\n", c.ID, describeChannel(c, s))
	}
}

func describeAfter(s notify.Step) string {
	if s.After == 0 {
		return "at once"
	}
	return "after " + short(s.After)
}

func describeStep(step notify.Step) string {
	who := step.Who
	switch who {
	case "on-call":
		who = "whoever is on call"
	case "next":
		who = "who comes next"
	case "site":
		who = "the contacts of the site"
	}
	if len(step.Via) > 0 {
		who += ", by " + strings.Join(step.Via, ", ")
	}
	return who
}

func describeRota(r notify.Rota) string {
	switch {
	case r.Calendar != "":
		return "by the calendar " + hostOr(r.Calendar)
	case len(r.Turns) > 0:
		return fmt.Sprintf("%s, a week each from %s %s", strings.Join(r.Turns, ", "), r.Begins, wallClock(r.HandOver))
	}
	return "nobody, there are neither turns nor a calendar"
}

// describePerson lists the person's channels in the order in which they are
// used. What is urgent goes by all of them at once.
func describePerson(p notify.Person, s notify.Settings) string {
	var ways []string
	for _, c := range s.Channels {
		if c.Kind != notify.MQTT && slices.Contains(p.Channels, c.ID) {
			ways = append(ways, strings.TrimSpace(c.ID+" "+p.AddressOn(c.ID)))
		}
	}
	first := func(way string) int { id, _, _ := strings.Cut(way, " "); return slices.Index(p.Channels, id) }
	slices.SortStableFunc(ways, func(a, b string) int { return cmp.Compare(first(a), first(b)) })
	text := fmt.Sprintf("%s (%s): %s", p.ID, p.Name, cmp.Or(strings.Join(ways, ", then "), "no channel"))
	if q := p.Quiet; q != nil {
		text += fmt.Sprintf("; what may wait does so from %s to %s, %s", wallClock(q.From), wallClock(q.To), p.Zone)
	}
	return text
}

// describeContact says how a site's contact is reached, if at all.
func describeContact(c fleet.Contact, s notify.Settings) string {
	told := strings.Join(slices.DeleteFunc([]string{c.Name, c.Phone, c.Email}, func(v string) bool { return v == "" }), ", ")
	var by []string
	for _, way := range s.WaysTo(c, nil) {
		by = append(by, way.Channel)
	}
	if len(by) == 0 {
		return told + " (named in alarms; no channel reaches it)"
	}
	return told + " (told by " + strings.Join(by, " and ") + ")"
}

// describeChannel says where a channel sends. Of an address to post to only
// the host is told, for the rest may be a key.
func describeChannel(c notify.Channel, s notify.Settings) string {
	where := c.Kind + " by " + hostOr(c.URL)
	if c.Kind == notify.MQTT {
		return "the state of each space on the topic " + c.Topic
	}
	to := strings.Join(c.To, ", ")
	switch {
	case !s.Personal(c) && to != "":
		return where + " to " + to + ", every alarm at once"
	case !s.Personal(c):
		return where + ", every alarm at once"
	case to != "":
		return where + ", to " + to + " in place of who has no address"
	}
	return where
}

// hostOr gives the host of an address, and a path as it is.
func hostOr(address string) string {
	if u, err := url.Parse(address); err == nil && u.Host != "" {
		return u.Host
	}
	return address
}
