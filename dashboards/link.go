package dashboards

import (
	"errors"
	"net/http"

	"heaterd/alerts/alarm"
	"heaterd/alerts/notify/answerlink"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

func (p *pages) linkOf(r *http.Request) (answerlink.Claim, error) {
	l, err := answerlink.Open(p.o.LinkSecret, r.PathValue("token"), p.o.Now())
	switch {
	case errors.Is(err, answerlink.ErrExpired):
		return l, problem(http.StatusGone, "This link has expired. Open the page of alarms instead.")
	case err != nil:
		return l, problem(http.StatusNotFound, "This link was not made here, or was cut off on its way. Open the page of alarms instead.")
	}
	return l, nil
}

// linkPage is what a link shows: the complete message its bearer had, as the
// alarm is now, and nothing that was not in it.
type linkPage struct {
	Name  string // of the person it is for
	Until reading.Instant
	Alarm alarmView
	Place string    // as people say it
	First []section // what to read before anything: what comes before the heater, if there is such
	Then  []section
	Done  bool // nothing is left to acknowledge
}

// link shows what a link would do. Opening it does nothing, for mail
// programs and scanners open links too.
func (p *pages) link(w http.ResponseWriter, r *http.Request) error {
	l, err := p.linkOf(r)
	if err != nil {
		return err
	}
	s := p.take()
	a, err := p.findAlarm(r.Context(), s, l.Alarm)
	if err != nil {
		return err
	}
	body := linkPage{
		Name: p.o.Name(l.Person), Until: reading.InstantOf(l.Expires),
		Alarm: p.viewAlarm(s, &a), Place: s.place(&a), Done: !a.Unanswered(),
	}
	body.First, body.Then = beforeHeater(letter(a, body.Alarm))
	return p.show(w, r, "link", Page{Title: "Acknowledge an alarm", At: s.At, Zone: body.Alarm.Zone}, body)
}

// followLink is the button of that page.
func (p *pages) followLink(w http.ResponseWriter, r *http.Request) error {
	l, err := p.linkOf(r)
	if err != nil {
		return err
	}
	a := record.Answer{Act: record.Acknowledge, Alarm: l.Alarm, By: l.Person, Role: alarm.Technician, From: from(r, "link")}
	switch err := p.answer(r.Context(), a); {
	case p.nothingLeft(r.Context(), a, err):
		return back(w, r, r.URL.Path, "acknowledge-over")
	case err != nil:
		return err
	}
	return back(w, r, r.URL.Path, p.done(a))
}
