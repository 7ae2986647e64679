package dashboards

import (
	"context"
	"errors"
	"net/http"
	"strconv"
	"time"

	"heaterd/alerts/outcome"
	"heaterd/ingest/reading"
)

// Backtest is what a proposed configuration would have changed.
type Backtest struct {
	From, To reading.Instant
	Same     int             // alarms that both raise
	More     []outcome.Alarm // only the proposed configuration raises
	Fewer    []outcome.Alarm // only the one in force raises
}

const backtestPath = "/alarms/backtest"

const (
	backtestDays = 7           // offered
	backtestMost = 31          // days at most
	backtestWait = time.Minute // longest a visitor waits
)

// backtestPage is the form and, once asked, its answer.
type backtestPage struct {
	Days   int
	Most   int
	Text   string
	Wrong  string // what is wrong with the configuration, a mistake in each line
	Result *Backtest
}

func (p *pages) backtestForm(w http.ResponseWriter, r *http.Request) error {
	if p.o.Backtest == nil {
		return notFound("page", r.URL.Path)
	}
	return p.showBacktest(w, r, http.StatusOK, backtestPage{Days: backtestDays})
}

func (p *pages) showBacktest(w http.ResponseWriter, r *http.Request, status int, body backtestPage) error {
	body.Most = backtestMost
	p.render(w, r, status, "backtest", Page{Title: "Try a configuration on the past", Here: "alarms", At: p.take().At}, body)
	return nil
}

// runBacktest tries what was sent. One at a time, for it takes a processor.
func (p *pages) runBacktest(w http.ResponseWriter, r *http.Request) error {
	if p.o.Backtest == nil {
		return notFound("page", r.URL.Path)
	}
	if !p.trying.TryLock() {
		return problem(http.StatusTooManyRequests, "Somebody else is trying a configuration; try again in a minute.")
	}
	defer p.trying.Unlock()
	body := backtestPage{Days: backtestDays, Text: r.FormValue("configuration")}
	if n, err := strconv.Atoi(r.FormValue("days")); err == nil {
		body.Days = min(max(n, 1), backtestMost)
	}
	ctx, cancel := context.WithTimeout(r.Context(), backtestWait)
	defer cancel()
	result, err := p.o.Backtest(ctx, body.Days, body.Text)
	if errors.Is(err, context.DeadlineExceeded) && r.Context().Err() == nil {
		return problem(http.StatusRequestEntityTooLarge, "%d days take longer than %s to tell again: try fewer days, or heaterd replay with a recording.", body.Days, span(backtestWait))
	}
	if wrong, ok := errors.AsType[*Problem](err); ok && wrong.Status == http.StatusUnprocessableEntity {
		body.Wrong = wrong.Text
		return p.showBacktest(w, r, wrong.Status, body)
	}
	if err != nil {
		return err
	}
	body.Result = &result
	return p.showBacktest(w, r, http.StatusOK, body)
}
