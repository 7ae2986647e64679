package dashboards

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"

	"heaterd/alerts/alarm"
	"heaterd/ingest"
	"heaterd/ingest/record"
	"heaterd/ingest/store"
)

// Problem is an error that the visitor is told, with its status.
type Problem struct {
	Status int
	Text   string
}

func (p *Problem) Error() string { return p.Text }

func problem(status int, format string, args ...any) error {
	return &Problem{Status: status, Text: fmt.Sprintf(format, args...)}
}

func notFound(what, id string) error {
	return problem(http.StatusNotFound, "There is no %s %q.", what, clipped(id, 80))
}

// faults gives refusals of the alarm book their status.
var faults = map[alarm.Fault]int{
	alarm.NoSuchAlarm: http.StatusNotFound,
	alarm.NotAllowed:  http.StatusForbidden,
	alarm.Incomplete:  http.StatusUnprocessableEntity,
	alarm.NotNow:      http.StatusConflict,
	alarm.NotThisKind: http.StatusConflict,
}

// told turns an error into what the visitor is told. What is no problem of
// theirs stays in the log.
func told(err error) *Problem {
	if p, ok := errors.AsType[*Problem](err); ok {
		return p
	}
	if r, ok := errors.AsType[*alarm.Refusal](err); ok {
		return &Problem{Status: faults[r.Fault], Text: sentence(advice(r))}
	}
	if m, ok := errors.AsType[*http.MaxBytesError](err); ok {
		return &Problem{Status: http.StatusRequestEntityTooLarge,
			Text: fmt.Sprintf("That is more than may be sent here, %d kB. Nothing was written down; send less.", m.Limit>>10)}
	}
	if errors.Is(err, ingest.ErrEnded) {
		return &Problem{Status: http.StatusServiceUnavailable,
			Text: "heaterd is stopping. What you sent was not written down: send it again once it runs again."}
	}
	if errors.Is(err, store.ErrUnavailable) {
		return &Problem{Status: http.StatusServiceUnavailable,
			Text: "The store cannot be used now; why is in the daemon's log. What you sent was not written down: tell whoever must know by telephone, and send it again later."}
	}
	return &Problem{Status: http.StatusInternalServerError, Text: "Something went wrong here; it was written to the daemon's log."}
}

// advice is what a refusal says, to somebody who has the alarm before them: its
// id tells them nothing.
func advice(r *alarm.Refusal) string {
	if rest, ok := strings.CutPrefix(r.Advice, r.Alarm+" "); ok && r.Act != record.InService {
		return "this alarm " + rest
	}
	return r.Advice
}

// headed is the heading of the page that tells of a problem.
func headed(status int, method string) string {
	switch {
	case status == http.StatusUnprocessableEntity && method == http.MethodPost:
		return "That cannot be written down"
	case status == http.StatusUnprocessableEntity:
		return "That cannot be shown"
	case status == http.StatusConflict:
		return "That cannot be done now"
	default:
		return http.StatusText(status)
	}
}

// ending is the answer to what was under way when the daemon stopped, or took up
// a new configuration. Nobody knows then how far it had come.
var ending = &Problem{Status: http.StatusServiceUnavailable,
	Text: "heaterd is stopping, or starting anew with another configuration. Ask again in a moment; if you sent something, see first whether it was written down."}

func (p *pages) fail(w http.ResponseWriter, r *http.Request, err error) {
	t := told(err)
	_, ours := errors.AsType[*Problem](err)
	switch gone := r.Context().Err() != nil; {
	case t.Status < http.StatusInternalServerError || ours || errors.Is(err, ingest.ErrEnded): // nothing is wrong here
	case !gone:
		p.o.Log.Error("a page could not be made", "path", r.URL.Path, "err", err)
	case t.Status == http.StatusInternalServerError:
		t = ending
	}
	if wantsJSON(r) {
		writeProblem(w, t)
		return
	}
	page, body := Page{Title: headed(t.Status, r.Method)}, problemPage{Text: t.Text, Back: formPage(r)}
	if r.Method == http.MethodPost && t.Status == http.StatusUnprocessableEntity {
		body.Again, page.Typed = p.sentAgain(r.URL.EscapedPath()), r.PostForm
	}
	if body.Again != nil { // going back to it would ask to send the form once more
		w.Header().Set("Cache-Control", "private, no-cache")
	}
	p.render(w, r, t.Status, "problem", page, body)
}

// writeProblem answers a program by RFC 9457. The status says what kind of
// problem it is, so the type is the one that adds nothing to it.
func writeProblem(w http.ResponseWriter, t *Problem) {
	writeAs(w, "application/problem+json", t.Status, map[string]any{
		"type": "about:blank", "title": http.StatusText(t.Status), "status": t.Status, "detail": t.Text,
	})
}

// nowhere answers what no other route does.
func (*pages) nowhere(_ http.ResponseWriter, r *http.Request) error {
	return nothingAt(r)
}

func nothingAt(r *http.Request) error {
	if wantsJSON(r) {
		return problem(http.StatusNotFound, "There is nothing at %s.", clipped(r.URL.Path, 80))
	}
	return problem(http.StatusNotFound, "There is no such page.")
}

// anyPath is the pattern of the route that answers where there is nothing.
const anyPath = "GET /{path...}"

// routed serves the routes. What the multiplexer would refuse by itself, in
// plain text, is a problem like any other here.
func (p *pages) routed(mux *http.ServeMux) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if _, pattern := mux.Handler(r); pattern != "" {
			mux.ServeHTTP(w, r)
			return
		}
		allowed := allowedAt(mux, r)
		if len(allowed) == 0 {
			p.fail(w, r, nothingAt(r))
			return
		}
		w.Header().Set("Allow", strings.Join(allowed, ", "))
		p.fail(w, r, problem(http.StatusMethodNotAllowed, "This address takes %s only.", strings.Join(allowed, " and ")))
	})
}

// allowedAt gives the methods of the routes at a request's address.
func allowedAt(mux *http.ServeMux, r *http.Request) []string {
	var out []string
	for _, method := range []string{http.MethodGet, http.MethodPost} {
		asked := r.Clone(r.Context())
		asked.Method = method
		if _, pattern := mux.Handler(asked); pattern != "" && pattern != anyPath {
			out = append(out, method)
		}
	}
	return out
}

type problemPage struct {
	Text  string
	Back  string // page that the form was sent from; empty: not known
	Again *again // the form itself, where it can be put right here
}

// formPage gives the page of this site that a form was sent from; empty where
// there is none.
func formPage(r *http.Request) string {
	from, err := url.Parse(r.Referer())
	if r.Method != http.MethodPost || err != nil || from.Host != r.Host || from.Path == r.URL.Path {
		return ""
	}
	return from.EscapedPath()
}
