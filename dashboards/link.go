package dashboards

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"net/http"
	"strconv"
	"strings"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/ingest/record"
)

// Link is what a signed link lets its bearer do: acknowledge one alarm, as
// one person, until it expires.
type Link struct {
	Alarm   string // id
	Person  string
	Expires time.Time // to the second
}

// The errors of ReadLink.
var (
	ErrLinkForged  = errors.New("this link was not made here, or was cut off on its way")
	ErrLinkExpired = errors.New("this link has expired")
)

// SignLink gives the path, from /a/ on, of a page on which the person can
// acknowledge the alarm: HMAC-SHA256 over alarm id, person and expiry.
// Whoever has the link can use it, so it goes to that person only.
func SignLink(secret []byte, alarm, person string, expires time.Time) string {
	text := alarm + "\x00" + person + "\x00" + strconv.FormatInt(expires.Unix(), 10)
	code := base64.RawURLEncoding
	return "/a/" + code.EncodeToString([]byte(text)) + "." + code.EncodeToString(linkCode(secret, text))
}

func linkCode(secret []byte, text string) []byte {
	mac := hmac.New(sha256.New, secret)
	mac.Write([]byte("acknowledge\x00" + text))
	return mac.Sum(nil)
}

// ReadLink reads what SignLink wrote, with or without its /a/. It gives
// ErrLinkForged or ErrLinkExpired; nothing of a refused link is told.
func ReadLink(secret []byte, token string, now time.Time) (Link, error) {
	text64, code64, _ := strings.Cut(strings.TrimPrefix(token, "/a/"), ".")
	text, err1 := base64.RawURLEncoding.Strict().DecodeString(text64)
	code, err2 := base64.RawURLEncoding.Strict().DecodeString(code64)
	if err1 != nil || err2 != nil || !hmac.Equal(code, linkCode(secret, string(text))) {
		return Link{}, ErrLinkForged
	}
	parts := strings.Split(string(text), "\x00")
	if len(parts) != 3 {
		return Link{}, ErrLinkForged
	}
	unix, err := strconv.ParseInt(parts[2], 10, 64)
	if err != nil {
		return Link{}, ErrLinkForged
	}
	if expires := time.Unix(unix, 0).UTC(); now.Before(expires) {
		return Link{Alarm: parts[0], Person: parts[1], Expires: expires}, nil
	}
	return Link{}, ErrLinkExpired
}

func (p *pages) linkOf(r *http.Request) (Link, error) {
	l, err := ReadLink(p.o.LinkSecret, r.PathValue("token"), p.o.Now())
	switch {
	case errors.Is(err, ErrLinkExpired):
		return l, problem(http.StatusGone, "This link has expired. Open the page of alarms instead.")
	case err != nil:
		return l, problem(http.StatusNotFound, "This link was not made here, or was cut off on its way. Open the page of alarms instead.")
	}
	return l, nil
}

// linkPage is what a link shows.
type linkPage struct {
	Link
	Alarm alarmView
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
	waits := a.State == alarm.Unacknowledged || a.State == alarm.Returned || a.State == alarm.Latched && !a.Acked
	return p.show(w, r, "link", Page{Title: "Acknowledge an alarm", At: s.At},
		linkPage{Link: l, Alarm: p.viewAlarm(s, &a), Done: !waits})
}

// followLink is the button of that page.
func (p *pages) followLink(w http.ResponseWriter, r *http.Request) error {
	l, err := p.linkOf(r)
	if err != nil {
		return err
	}
	err = p.answer(r.Context(), record.Answer{
		Act: record.Acknowledge, Alarm: l.Alarm, By: l.Person, Role: alarm.Technician, From: from(r, "link"),
	})
	if err != nil {
		return err
	}
	return back(w, r, r.URL.Path, string(record.Acknowledge))
}
