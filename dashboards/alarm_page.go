package dashboards

import (
	"cmp"
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fleet"
	"heaterd/alerts/ledger"
	"heaterd/alerts/notify"
	"heaterd/alerts/wording"
	"heaterd/ingest/reading"
)

// How many changes the page of alarms lists, and how many alarms that were set
// aside it lists unasked: a silent site sets aside one for each of its units.
const (
	historyShown = 60
	asideShown   = 10
)

// alarmsPage is every alarm that is not over, and what happened lately.
type alarmsPage struct {
	Duty    *duty
	Groups  []alarmGroup
	Aside   []alarmView // shelved, suppressed, out of service
	Further []alarmView // more of them
	History []changeView
}

// alarmGroup is the alarms of one priority.
type alarmGroup struct {
	Priority alarm.Priority
	Alarms   []alarmView
}

// changeView is a change of an alarm's state.
type changeView struct {
	alarm.Transition
	alarmView
}

// Reason says why the state changed, with titles in place of ids.
func (c changeView) Reason() string { return c.named(c.Transition.Why) }

// Whose says who changed it and by what way. A role is told only where the
// pages asked for it: a link and a topic let through whoever has them.
func (c changeView) Whose() string {
	way, address, _ := strings.Cut(c.Where, " ")
	role := c.By
	if c.Role != "" {
		role += " (" + c.Role + ")"
	}
	switch way {
	case alarm.ByItself:
		return "heaterd by itself"
	case "mqtt":
		return c.By + ", by a name published over MQTT"
	case "link":
		return joined(c.By, "by the link in a message to them", address)
	default:
		return joined(role, c.Where)
	}
}

func (p *pages) alarms(w http.ResponseWriter, r *http.Request) error {
	s := p.take()
	body := alarmsPage{Duty: s.duty}
	for _, prio := range alarm.Priorities() {
		these := s.where(func(a *alarm.Alarm) bool { return a.Priority == prio && needsSomebody(a) })
		body.Groups = append(body.Groups, alarmGroup{prio, p.viewAlarms(s, these)})
	}
	aside := p.viewAlarms(s, s.where(func(a *alarm.Alarm) bool { return !needsSomebody(a) }))
	n := min(len(aside), asideShown)
	body.Aside, body.Further = aside[:n], aside[n:]
	changes, err := p.o.Ledger.History(r.Context(), ledger.Filter{Limit: historyShown})
	if err != nil {
		return err
	}
	body.History = p.viewChanges(s, changes)
	return p.show(w, r, "alarms", Page{Title: "Alarms", Here: "alarms", Live: true, At: s.At}, body)
}

// viewChanges gives changes newest first, with people as others say them.
func (p *pages) viewChanges(s *Stock, ts []alarm.Transition) []changeView {
	out := make([]changeView, 0, len(ts))
	for i := len(ts) - 1; i >= 0; i-- {
		t := ts[i]
		t.By = p.o.Name(t.By)
		out = append(out, changeView{t, p.viewAlarm(s, &ts[i].Alarm)})
	}
	return out
}

// alarmPage is one alarm with everything that happened to it.
type alarmPage struct {
	alarmView
	Place    string // as people say it
	Letter   []section
	History  []changeView
	Messages []message // tried, or over
	Planned  []message // whose time has not come
}

// sort parts the messages by whether their time has come, those to come by when.
func (a *alarmPage) sort(all []message) {
	for _, m := range all {
		if m.Ahead() {
			a.Planned = append(a.Planned, m)
		} else {
			a.Messages = append(a.Messages, m)
		}
	}
	slices.SortStableFunc(a.Planned, func(a, b message) int { return cmp.Compare(a.NextAttempt, b.NextAttempt) })
}

// section is one part of the complete message about an alarm.
type section struct {
	Head     string
	Lines    []string
	Ordered  bool
	Contacts []fleet.Contact // where it says whom to call
}

// message is one message with what it says, and every attempt to send it.
type message struct {
	ledger.Job
	Said     notify.Message
	Attempts []ledger.Delivery
}

// What says to whom the message goes, by what way, and what it is for.
func (m message) What() string {
	by := ""
	if m.Channel != "" {
		by = " by " + m.Channel
	}
	switch {
	case m.Said.OfTaking() && m.Said.Kind == notify.Farewell:
		return "That somebody " + m.act() + ", to the others who were told of it: each has a message of their own"
	case m.Said.OfTaking():
		return m.who() + by + ", that somebody " + m.act()
	}
	switch m.Said.Kind {
	case notify.Farewell:
		return "That it ended, to everybody who was told of it: each has a message of their own"
	case notify.State:
		return "The state of its place" + by + ", for whatever listens there"
	case notify.Digest:
		return "The morning message to " + m.who() + by
	case notify.Ended:
		return m.who() + by + ", that it ended"
	}
	if m.Person == "" {
		return m.who() + by
	}
	return fmt.Sprintf("%s%s, step %d", m.who(), by, m.Step+1)
}

// act is what somebody did of which the message tells.
func (m message) act() string {
	if m.Said.Kind == notify.Shelved || m.Said.Change != nil && m.Said.Change.Event == alarm.Shelve {
		return "shelved it"
	}
	return "acknowledged"
}

// Came says what came of it, or when it is to be sent.
func (m message) Came(zone *time.Location) string {
	switch {
	case m.State == ledger.Sent && m.Said.Kind == notify.Farewell:
		return "written " + clock(m.DeliveredAt, zone)
	case m.State == ledger.Sent:
		return "handed over " + clock(m.DeliveredAt, zone)
	case m.State == ledger.Dead:
		return "given up, planned " + clock(m.Created, zone)
	case m.State == ledger.Cancelled:
		return "called off: not needed any more"
	case m.Ahead():
		return "planned for " + clock(m.NextAttempt, zone)
	default:
		return "not handed over yet, next try " + clock(m.NextAttempt, zone)
	}
}

// failure is attempts that failed alike.
type failure struct {
	From, To reading.Instant // of the first and the last of them
	Times    int
	Error    string
}

// Failures are the attempts that came to nothing, those with the same error as
// one: while a channel is out there are some sixty in an hour.
func (m message) Failures() []failure {
	var out []failure
	for _, d := range m.Attempts {
		if d.OK {
			continue
		}
		i := slices.IndexFunc(out, func(f failure) bool { return f.Error == d.Error })
		if i < 0 {
			i = len(out)
			out = append(out, failure{From: d.At, Error: d.Error})
		}
		out[i].To = d.At
		out[i].Times++
	}
	return out
}

// Ahead reports whether nothing was tried yet: its time has not come.
func (m message) Ahead() bool { return m.State == ledger.Pending && len(m.Attempts) == 0 }

func (m message) who() string {
	return cmp.Or(m.Said.Name, m.Person, "All who listen")
}

func (p *pages) alarm(w http.ResponseWriter, r *http.Request) error {
	s := p.take()
	a, err := p.findAlarm(r.Context(), s, r.PathValue("id"))
	if err != nil {
		return err
	}
	body := alarmPage{alarmView: p.viewAlarm(s, &a), Place: s.place(&a)}
	body.Letter = slices.DeleteFunc(letter(a, body.alarmView), func(part section) bool { // it stands above, and who holds it back beside it
		return len(part.Lines) == 1 && strings.HasPrefix(part.Lines[0], body.Text)
	})
	ts, err := p.historyOf(r.Context(), a.ID)
	if err != nil {
		return err
	}
	body.History = p.viewChanges(s, ts)
	all, err := p.messages(r, a.ID)
	if err != nil {
		return err
	}
	body.sort(all)
	return p.show(w, r, "alarm", Page{Title: body.Title() + " " + a.ID, Here: "alarms", Live: true, At: s.At, Zone: body.Zone}, body)
}

// letter is the complete message about an alarm in its sections, but for the
// site's procedure of alarms that concern people, which stands above all.
func letter(a alarm.Alarm, v alarmView) []section {
	_, text := wording.Full(wording.Of(a, &v.At.Site))
	var out []section
	for part := range strings.SplitSeq(text, "\n\n") {
		head, rest, more := strings.Cut(strings.TrimSpace(part), "\n")
		if !more || v.Procedure != nil && strings.HasPrefix(head, "1.") {
			continue // the message's own footer; the procedure
		}
		one := newSection(head, rest)
		if strings.HasSuffix(head, "Call") {
			one.Contacts = v.At.Contacts
		}
		out = append(out, one)
	}
	return out
}

// beforeHeater parts a letter where the heater begins: the steps before it
// have the numbers up to 3. Without such steps what is known comes first.
func beforeHeater(all []section) (first, then []section) {
	n := slices.IndexFunc(all, func(s section) bool { return !strings.ContainsAny(s.Head[:1], "123") })
	if n < 0 {
		n = len(all)
	}
	n = min(max(n, 1), len(all))
	return all[:n], all[n:]
}

func newSection(head, text string) section {
	s := section{Head: head}
	for l := range strings.SplitSeq(text, "\n") {
		if number, rest, ok := strings.Cut(l, ") "); ok && strings.Trim(number, "0123456789") == "" {
			s.Ordered, l = true, rest
		}
		s.Lines = append(s.Lines, strings.TrimPrefix(l, "- "))
	}
	return s
}

func (p *pages) messages(r *http.Request, id string) ([]message, error) {
	jobs, err := p.o.Ledger.JobsOf(r.Context(), id)
	if err != nil {
		return nil, err
	}
	var out []message
	for _, j := range jobs {
		attempts, err := p.o.Ledger.Deliveries(r.Context(), j.ID)
		if err != nil {
			return nil, err
		}
		said, _ := notify.ReadMessage(j.Body) // one that cannot be read has its row still
		out = append(out, message{j, said, attempts})
	}
	return out, nil
}

func (p *pages) historyOf(ctx context.Context, id string) ([]alarm.Transition, error) {
	return p.o.Ledger.History(ctx, ledger.Filter{Alarm: id})
}
