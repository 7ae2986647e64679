package dashboards

import (
	"cmp"
	"context"
	"errors"
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fold"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// How long a form waits until the alarm loop has read its line, so that the
// page that follows shows the result. Common practice, no source.
const (
	settleFor   = 3 * time.Second
	settleEvery = 10 * time.Millisecond
)

// said are the sentences after an act, by the word in the address.
var said = map[string]string{
	"acknowledge":         "Acknowledged.",
	"acknowledge-late":    "Somebody else acknowledged it a moment before you: who sees to it stands below.",
	"acknowledge-over":    "It was over already: nothing was left to acknowledge.",
	"shelve":              "Shelved.",
	"shelve-short":        "Shelved, but not for as long as you asked: an alarm of this kind may be so only until the time that stands below.",
	"unshelve":            "No longer shelved.",
	"reset":               "Reset.",
	"out-of-service":      "Out of service. Alarms about the air people breathe stay on.",
	"in-service":          "Back in service.",
	"look-over":           "Look-over logged.",
	"look-over-dangerous": "Look-over logged. Something dangerous is not in order: the site's procedure first, leave the heater off, tag it, and take it out of service: press that below.",
	"service":             "Service logged.",
	"refuel":              "Refuel logged.",
	"withdraw":            "Withdrawal logged. The entry counts no more, and stays in the log.",
	"planned-stop":        "Planned stop logged.",
	"planned-stop-end":    "Logged: no planned stop any more.",
	"fit-node-unheard":    "Logged. " + notHeardOf + " The configuration says which sensor unit speaks for which heater; have it changed there too.",
	"fit-node":            "Logged. The configuration says which sensor unit speaks for which heater; have it changed there too.",
}

// write appends a line to the log and waits until it is read.
func (p *pages) write(ctx context.Context, l record.Line) error {
	l.At = reading.InstantOf(p.o.Now())
	id, err := p.o.Record(ctx, l)
	if err != nil {
		return err
	}
	p.settle(ctx, id)
	p.forget()
	return nil
}

func (p *pages) settle(ctx context.Context, id int64) {
	if p.o.Changed == nil {
		return
	}
	ctx, cancel := context.WithTimeout(ctx, settleFor)
	defer cancel()
	tick := time.NewTicker(settleEvery)
	defer tick.Stop()
	for p.o.Changed() < id {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// answer carries out a person's act on an alarm or heater. It is rehearsed on
// a copy of the alarms first, so that what cannot be is told at once. After
// a start, until the engine has taken up what it knew, the ledger has them.
func (p *pages) answer(ctx context.Context, a record.Answer) (err error) {
	p.forget()
	s := p.take()
	known := s.Alarms
	if s.At == 0 {
		if known, err = p.o.Ledger.Live(ctx); err != nil {
			return err
		}
	}
	if err := rehearse(known, max(reading.InstantOf(p.o.Now()), s.At), a); err != nil {
		return err
	}
	return p.write(ctx, record.Line{Answer: &a})
}

func rehearse(known []alarm.Alarm, now reading.Instant, a record.Answer) error {
	b := alarm.NewBook(alarm.Rules())
	b.Restore(known)
	_, err := b.Answer(now, a)
	return err
}

// person gives the name of who acts: of whoever signed in, or as typed where
// nobody has to.
func (p *pages) person(w http.ResponseWriter, r *http.Request) (string, error) {
	if v := visitor(r); v.Name != "" {
		return v.Name, nil
	}
	name, err := whole("The name", r.FormValue("by"), longestName)
	if err != nil {
		return "", err
	}
	if name == "" {
		return "", problem(http.StatusUnprocessableEntity, "Say who you are: the log keeps a name with every act.")
	}
	p.remember(w, r, "who", url.QueryEscape(name))
	return name, nil
}

// decodeName reads a name as person remembered it.
func decodeName(s string) string {
	name, err := url.QueryUnescape(s)
	if err != nil {
		return ""
	}
	return line(name, longestName)
}

// line makes text from outside one line of at most n characters.
func line(s string, n int) string { return strings.TrimSpace(clipped(oneLine(s), n)) }

// whole is line for what is kept: cut short, the log would hold what nobody
// wrote.
func whole(what, s string, most int) (string, error) {
	s = oneLine(s)
	if n := utf8.RuneCountInString(s); n > most {
		return "", problem(http.StatusUnprocessableEntity,
			"%s is %d characters long, and at most %d are kept. Nothing was written down: make it shorter and send it again.", what, n, most)
	}
	return s, nil
}

func oneLine(s string) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || unicode.In(r, unicode.Cf, unicode.Zl, unicode.Zp) {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, "?"))
	return strings.Join(strings.Fields(s), " ")
}

// How long what people write down may be, characters.
const (
	longestNote = 2000
	longestNode = 64
	longestName = 60 // of a person
)

// from says from where somebody acted.
func from(r *http.Request, way string) string { return way + " " + visitor(r).From }

// heaterAct gives the handler of an act on a whole heater.
func heaterAct(act record.Act) func(*pages, http.ResponseWriter, *http.Request) error {
	return func(p *pages, w http.ResponseWriter, r *http.Request) error {
		h, err := p.answerHeater(w, r, act, "page")
		if err != nil {
			return err
		}
		return back(w, r, "/heaters/"+url.PathEscape(h.ID), string(act))
	}
}

// answerHeater carries out an act on a whole heater, as a form asks it.
func (p *pages) answerHeater(w http.ResponseWriter, r *http.Request, act record.Act, way string) (*fold.HeaterView, error) {
	h, err := p.heaterOf(r)
	if err != nil {
		return nil, err
	}
	by, err := p.person(w, r)
	if err != nil {
		return nil, err
	}
	why, err := whole("The reason", r.FormValue("why"), longestNote)
	if err != nil {
		return nil, err
	}
	return h, p.answer(r.Context(), record.Answer{
		Act: act, Heater: h.ID, By: by, Role: string(visitor(r).Role), From: from(r, way), Why: why,
	})
}

// alarmAct gives the handler of an act on one alarm.
func alarmAct(act record.Act) func(*pages, http.ResponseWriter, *http.Request) error {
	return func(p *pages, w http.ResponseWriter, r *http.Request) error {
		a, err := p.answerOf(w, r, act, "page")
		if err != nil {
			return err
		}
		to := localPath(r.FormValue("back"), "/alarms/"+url.PathEscape(a.Alarm))
		switch err := p.answerAll(r, a); {
		case p.nothingLeft(r.Context(), a, err):
			return back(w, r, to, "acknowledge-over")
		case err != nil:
			return err
		}
		return back(w, r, to, p.done(a))
	}
}

// nothingLeft reports whether an acknowledgement was refused because the alarm
// is over: it was seen, and whoever pressed a second too late made no mistake.
func (p *pages) nothingLeft(ctx context.Context, a record.Answer, err error) bool {
	no, refused := errors.AsType[*alarm.Refusal](err)
	if !refused || no.Fault != alarm.NoSuchAlarm || a.Act != record.Acknowledge {
		return false
	}
	_, known, err := p.o.Ledger.Alarm(ctx, a.Alarm)
	return err == nil && known
}

// done gives the word for what was done: an alarm is not shelved for longer
// than its kind may be, whatever was asked, and of two who acknowledge at once
// one sees to it.
func (p *pages) done(a record.Answer) string {
	s := p.take()
	one := s.alarms[a.Alarm]
	switch {
	case one == nil:
	case a.Act == record.Shelve && a.For > p.viewAlarm(s, one).MaxShelve:
		return "shelve-short"
	case a.Act == record.Acknowledge && one.AckedBy != "" && one.AckedBy != a.By:
		return "acknowledge-late"
	}
	return string(a.Act)
}

// mostAtOnce bounds how many alarms of one space a form acknowledges.
const mostAtOnce = 16

// answerAll answers an alarm, and where it is acknowledged, the others of the
// same event that the form names, each on its own in the record. One that ended
// meanwhile, or that somebody else saw to, holds up no other.
func (p *pages) answerAll(r *http.Request, a record.Answer) error {
	all := []string{a.Alarm}
	if also := r.Form["also"]; a.Act == record.Acknowledge {
		all = append(all, also[:min(len(also), mostAtOnce)]...)
	}
	var refused error
	done := false
	for _, a.Alarm = range all {
		err := p.answer(r.Context(), a)
		if _, no := errors.AsType[*alarm.Refusal](err); err != nil && !no {
			return err
		}
		done, refused = done || err == nil, cmp.Or(refused, err)
	}
	if done {
		return nil
	}
	return refused
}

// answerOf reads an act on one alarm from a request's form.
func (p *pages) answerOf(w http.ResponseWriter, r *http.Request, act record.Act, way string) (record.Answer, error) {
	by, err := p.person(w, r)
	if err != nil {
		return record.Answer{}, err
	}
	why, err := whole("The reason", r.FormValue("why"), longestNote)
	if err != nil {
		return record.Answer{}, err
	}
	a := record.Answer{
		Act: act, Alarm: r.PathValue("id"), By: by, Role: string(visitor(r).Role), From: from(r, way), Why: why,
	}
	if act == record.Reset && r.FormValue("cleared") != "yes" {
		how := "tick that it has"
		if wantsJSON(r) {
			how = "say cleared: yes"
		}
		return a, problem(http.StatusUnprocessableEntity, "Reset needs your word that the site has cleared the space: %s.", how)
	}
	if act == record.Shelve {
		a.For, err = length(r.FormValue("for"))
	}
	return a, err
}

// localPath lets through paths on this server only: no scheme, no host, and
// nothing a browser would read as one.
func localPath(s, otherwise string) string {
	u, err := url.Parse(s)
	if err != nil || u.IsAbs() || u.Host != "" || !strings.HasPrefix(s, "/") || strings.HasPrefix(s, "//") || strings.ContainsAny(s, "\\\r\n\t") {
		return otherwise
	}
	return s
}

// back leads to a page that says what was done.
func back(w http.ResponseWriter, r *http.Request, path, word string) error {
	u, err := url.Parse(path)
	if err != nil {
		return err
	}
	q := u.Query()
	q.Set("said", word)
	u.RawQuery = q.Encode()
	http.Redirect(w, r, u.String(), http.StatusSeeOther)
	return nil
}

// longestOff is the longest time off at one go: a stop that is meant for longer
// is said again, for nobody is told of the heater meanwhile. Alarms have their
// own longest time to be shelved, by kind. Common practice, no source.
const longestOff = 31 * oneDay

// spanPart is a part of a length of time as people write it: 2h, 90 min or
// 1,5 days.
var spanPart = regexp.MustCompile(`^([0-9]+(?:[.,][0-9]+)?) *(days?|d|hours?|hrs?|h|minutes?|mins?|m|seconds?|secs?|s)[ ,]*`)

// spanUnits are the units by their first letters.
var spanUnits = map[byte]time.Duration{'d': oneDay, 'h': time.Hour, 'm': time.Minute, 's': time.Second}

// duration reads how long a heater is to be off, such as 30m, 2 h or 3 days.
func duration(s string) (time.Duration, error) {
	d, err := length(s)
	if err == nil && d > longestOff {
		return 0, problem(http.StatusUnprocessableEntity, "%q is too long a time: at most %d days at one go.", clipped(s, 20), longestOff/oneDay)
	}
	return d, err
}

// length reads a length of time. One that is longer than anything may last
// here comes to a little more than that.
func length(s string) (time.Duration, error) {
	rest := strings.ToLower(strings.TrimSpace(s))
	if rest == "" {
		return 0, problem(http.StatusUnprocessableEntity, "Say for how long: for example 30m, 2h or 3d.")
	}
	h := 0.0
	for rest != "" {
		m := spanPart.FindStringSubmatch(rest)
		if m == nil {
			return 0, problem(http.StatusUnprocessableEntity, "%q is no time: write a number with its unit, for example 30m, 2h or 3d.", clipped(s, 20))
		}
		v, _ := strconv.ParseFloat(strings.Replace(m[1], ",", ".", 1), 64) // too great a one is infinite
		h += v * spanUnits[m[2][0]].Hours()
		rest = rest[len(m[0]):]
	}
	if h == 0 {
		return 0, problem(http.StatusUnprocessableEntity, "%q is no time at all: write for example 30m, 2h or 3d.", clipped(s, 20))
	}
	return time.Duration(min(h, longestOff.Hours()+1) * float64(time.Hour)).Round(time.Second), nil
}
