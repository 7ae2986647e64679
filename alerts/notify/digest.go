package notify

import (
	"html/template"
	"slices"
	"strconv"
	"strings"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/ledger"
	"heaterd/alerts/notify/rota"
	"heaterd/alerts/wording"
	"heaterd/ingest/reading"
)

// digests are the morning messages a low alarm waits for: one for each person
// of the first step and day, however many alarms wait for it. What it says is
// written when it is sent.
func (p *Planner) digests(t alarm.Transition) []ledger.Job {
	if len(p.settings.Steps) == 0 {
		return nil
	}
	var jobs []ledger.Job
	for _, r := range p.who(p.settings.Steps[0], t) {
		r, due := p.inMorning(r, t)
		if len(r.ways) == 0 {
			continue
		}
		jobs = append(jobs, p.morning(r, due, t))
	}
	return jobs
}

// inMorning is when a recipient of the first step has the morning message,
// and who it is then, where a rota says so: a hand-over may lie between.
func (p *Planner) inMorning(r recipient, t alarm.Transition) (recipient, time.Time) {
	due := nextClock(t.At.Time(), p.settings.Digest, r.zoneOr())
	if first := p.settings.Steps[0]; first.Who == "on-call" || first.Who == "next" {
		t.At = reading.InstantOf(due.Add(-first.After))
		if found := p.who(first, t); len(found) > 0 {
			return found[0], due
		}
	}
	return r, due
}

// nextClock is the first instant after at when the zone's clocks show the
// time of day.
func nextClock(at time.Time, clock time.Duration, zone *time.Location) time.Time {
	y, m, d := at.In(zone).Date()
	for day := d; ; day++ {
		if next := rota.Wall(y, m, day, clock, zone); next.After(at) {
			return next
		}
	}
}

func (p *Planner) morning(r recipient, due time.Time, t alarm.Transition) ledger.Job {
	c := r.ways[0]
	m := Message{
		ID:   jobID(string(Digest), r.id, due.Format(time.DateOnly)),
		Kind: Digest, At: reading.InstantOf(due), Channel: c.Channel, Else: r.ways[1:],
		Person: r.id, Name: r.name, Address: c.Address, Language: r.language,
		Priority: alarm.Low, Link: p.page(),
	}
	return ledger.Job{
		ID: m.ID, Seq: t.Alarm.Seq, Channel: m.Channel, Person: m.Person,
		Body: mustJSON(m), Created: t.At, NextAttempt: r.patient(m.At, alarm.Low),
	}
}

// digest writes the morning message from the alarms there are; ok is false if
// nothing waits any more.
func (p *Planner) digest(m Message, alarms []alarm.Alarm) (Message, bool) {
	waiting := waits(alarms)
	if len(waiting) == 0 {
		return m, false
	}
	l := wording.Lookup(m.Language)
	var lines []string
	for _, a := range waiting {
		lines = append(lines, l.Line(wording.Of(a, p.siteOf(a))))
	}
	m.Subject = "What waits: " + counted(len(waiting))
	m.Short = shortened(m.Subject+". "+lines[0], wording.MaxShort)
	m.Text = letter(m.Subject, lines, m.Link)
	m.HTML = htmlOf(m.Subject, lines, toAcknowledge, m.Link)
	return m, true
}

// waits are the low alarms that nobody has acknowledged, by place.
func waits(alarms []alarm.Alarm) []alarm.Alarm {
	var out []alarm.Alarm
	for _, a := range alarms {
		if a.Priority == alarm.Low && a.State == alarm.Unacknowledged {
			out = append(out, a)
		}
	}
	slices.SortFunc(out, func(a, b alarm.Alarm) int { return a.Key.Compare(b.Key) })
	return out
}

// toAcknowledge is what the link of the morning message is for.
const toAcknowledge = "See and acknowledge"

func counted(n int) string {
	if n == 1 {
		return "1 thing to look at"
	}
	return strconv.Itoa(n) + " things to look at"
}

func letter(head string, lines []string, link string) string {
	var b strings.Builder
	b.WriteString(head + "\n\n")
	for _, line := range lines {
		b.WriteString("- " + line + "\n")
	}
	if link != "" {
		b.WriteString("\n" + toAcknowledge + "\n" + link + "\n")
	}
	return b.String()
}

// shortened cuts s to n characters, the last three of them dots.
func shortened(s string, n int) string {
	r := []rune(s)
	if len(r) <= n {
		return s
	}
	return string(r[:n-3]) + "..."
}

var digestPage = template.Must(template.New("digest").Parse(`<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><title>{{.Head}}</title></head><body>
<h1>{{.Head}}</h1>
<ul>{{range .Lines}}<li>{{.}}</li>{{end}}</ul>
{{if .Link}}<p><a href="{{.Link}}">{{.Label}}</a></p>
{{end}}</body></html>
`))

// htmlOf shows the link, which may be none, as what it does.
func htmlOf(head string, lines []string, label, link string) string {
	var b strings.Builder
	if err := digestPage.Execute(&b, map[string]any{"Head": head, "Lines": lines, "Label": label, "Link": link}); err != nil {
		panic("BUG: " + err.Error())
	}
	return b.String()
}
