package dashboards

import (
	"errors"
	"fmt"
	"net/http"

	"heaterd/alerts/alarm"
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
		return &Problem{Status: faults[r.Fault], Text: sentence(r.Advice)}
	}
	if _, ok := errors.AsType[*http.MaxBytesError](err); ok {
		return &Problem{Status: http.StatusRequestEntityTooLarge, Text: "That is more than a form may carry."}
	}
	return &Problem{Status: http.StatusInternalServerError, Text: "Something went wrong here; it was written to the daemon's log."}
}

func (p *pages) fail(w http.ResponseWriter, r *http.Request, err error) {
	t := told(err)
	if t.Status >= http.StatusInternalServerError && r.Context().Err() == nil {
		p.o.Log.Error("a page could not be made", "path", r.URL.Path, "err", err)
	}
	if wantsJSON(r) {
		writeJSON(w, t.Status, map[string]string{"error": t.Text})
		return
	}
	p.render(w, r, t.Status, "problem", Page{Title: http.StatusText(t.Status)}, t)
}

// nowhere answers what no other route does.
func (*pages) nowhere(_ http.ResponseWriter, _ *http.Request) error {
	return problem(http.StatusNotFound, "There is no such page.")
}
