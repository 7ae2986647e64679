package dashboards_test

import (
	"context"
	"errors"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"heaterd/dashboards"
	"heaterd/ingest"
	"heaterd/ingest/record"
	"heaterd/ingest/store"
)

// send posts a body as it stands.
func (w *world) send(target, kind, body string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(http.MethodPost, target, strings.NewReader(body))
	r.Host = "localhost:8080"
	r.Header.Set("Content-Type", kind)
	rec := httptest.NewRecorder()
	w.handler.ServeHTTP(rec, r)
	return rec
}

const (
	formKind  = "application/x-www-form-urlencoded"
	partsKind = "multipart/form-data; boundary=x"
)

// TestFormsAreReadWholeOrRefused sends forms of which only a part can be read.
func TestFormsAreReadWholeOrRefused(t *testing.T) {
	part := func(name, value string) string {
		return "--x\r\nContent-Disposition: form-data; name=\"" + name + "\"\r\n\r\n" + value + "\r\n"
	}
	long := strings.Repeat("n", 70<<10)
	for name, c := range map[string]struct {
		kind, body string
		want       int
		says       string
	}{
		"too long":       {formKind, "by=Kim&amount=5&note=" + long, http.StatusRequestEntityTooLarge, "64 kB"},
		"too long parts": {partsKind, part("by", "Kim") + part("amount", "5") + part("note", long) + "--x--\r\n", http.StatusRequestEntityTooLarge, "64 kB"},
		"broken":         {formKind, "by=Kim&amount=5&note=%zz", http.StatusBadRequest, "cannot be read"},
		"cut off":        {partsKind, part("by", "Kim") + part("amount", "5") + "--x\r\nContent-Dispo", http.StatusBadRequest, "cannot be read"},
	} {
		t.Run(name, func(t *testing.T) {
			w := newWorld(t)
			rec := w.send("/heaters/H-07/refuel", c.kind, c.body)
			if rec.Code != c.want || w.count() != 0 {
				t.Errorf("answered %d and wrote %d lines, want %d and none", rec.Code, w.count(), c.want)
			}
			has(t, rec.Body.String(), c.says)
		})
	}
}

// TestTrialReadsTheWholeConfiguration sends a configuration as long as one of
// a great fleet is.
func TestTrialReadsTheWholeConfiguration(t *testing.T) {
	var got string
	w := newWorld(t, func(o *dashboards.Options) {
		o.Backtest = func(_ context.Context, _ int, text string) (dashboards.Backtest, error) {
			got = text
			return dashboards.Backtest{}, nil
		}
	})
	text := strings.Repeat("  - { id: H-07, node: n-07, site: quay, space: hall }\r\n", 40_000)
	rec := w.do("POST", "/alarms/backtest", url.Values{"days": {"2"}, "configuration": {text}})
	if rec.Code != http.StatusOK || got != text {
		t.Errorf("answered %d, and %d of %d bytes were tried", rec.Code, len(got), len(text))
	}
	got = ""
	if rec := w.do("POST", "/alarms/backtest", url.Values{"configuration": {strings.Repeat("n", 13<<20)}}); rec.Code != http.StatusRequestEntityTooLarge || got != "" {
		t.Errorf("a longer one is answered %d, and %d bytes were tried", rec.Code, len(got))
	}
}

// TestTrialThatTakesTooLong says what to do about it.
func TestTrialThatTakesTooLong(t *testing.T) {
	w := newWorld(t, func(o *dashboards.Options) {
		o.Backtest = func(ctx context.Context, _ int, _ string) (dashboards.Backtest, error) {
			<-ctx.Done()
			return dashboards.Backtest{}, ctx.Err()
		}
	})
	synctest.Test(t, func(t *testing.T) {
		begun := time.Now()
		rec := w.do("POST", "/alarms/backtest", url.Values{"days": {"31"}, "configuration": {"version: 1"}})
		if rec.Code >= 500 || time.Since(begun) > 2*time.Minute {
			t.Errorf("answered %d after %v", rec.Code, time.Since(begun))
		}
		has(t, rec.Body.String(), "fewer days")
	})
}

// TestStoreThatTakesNothingIsTold sends what cannot be written down now: who
// sent it must know that it was not, and that it can be tried again.
func TestStoreThatTakesNothingIsTold(t *testing.T) {
	w := newWorld(t, func(o *dashboards.Options) {
		o.Log = slog.New(slog.DiscardHandler)
		o.Record = func(context.Context, record.Line) (int64, error) {
			return 0, &store.Unavailable{Op: "append to the log", Err: errors.New("full"), Hint: "free some space"}
		}
	})
	for _, target := range []string{"/heaters/H-07/refuel", "/alarms/H-08.shutdown-unexplained.5/acknowledge"} {
		rec := w.do("POST", target, url.Values{"by": {"Kim"}})
		if rec.Code != http.StatusServiceUnavailable {
			t.Errorf("%s is answered %d", target, rec.Code)
		}
		has(t, rec.Body.String(), "not written down", "again")
	}
}

// TestWhatIsTooLongIsNotCutShort sends more than is kept: the log must not hold
// what nobody wrote.
func TestWhatIsTooLongIsNotCutShort(t *testing.T) {
	note, node, name := strings.Repeat("ö", 2001), strings.Repeat("n", 65), strings.Repeat("K", 61)
	for _, c := range []struct{ target, kind, body string }{
		{"/api/v1/entries", "application/json", `{"heater":"H-07","task":"nozzle","by":"Kim","note":"` + note + `"}`},
		{"/api/v1/entries", "application/json", `{"heater":"H-07","task":"nozzle","by":"Kim","found":"` + note + `"}`},
		{"/api/v1/entries", "application/json", `{"heater":"H-07","task":"fit-node","by":"Kim","node":"` + node + `"}`},
		{"/api/v1/planned-stops", "application/json", `{"heater":"H-07","for":"2h","by":"Kim","note":"` + note + `"}`},
		{"/api/v1/alarms/H-08.shutdown-unexplained.5/shelve", "application/json", `{"for":"2h","by":"Kim","why":"` + note + `"}`},
		{"/api/v1/heaters/H-07/out-of-service", "application/json", `{"by":"Kim","why":"` + note + `"}`},
		{"/heaters/H-07/refuel", formKind, "by=Kim&note=" + note},
		{"/heaters/H-07/service", formKind, "by=Kim&task=nozzle&found=" + note},
		{"/heaters/H-07/fit-node", formKind, "by=Kim&node=" + node},
		{"/heaters/H-07/planned-stop", formKind, "by=Kim&for=2h&note=" + note},
		{"/api/v1/entries", "application/json", `{"heater":"H-07","task":"nozzle","by":"` + name + `"}`},
		{"/api/v1/planned-stops", "application/json", `{"heater":"H-07","for":"2h","by":"` + name + `"}`},
		{"/heaters/H-07/refuel", formKind, "by=" + name},
		{"/alarms/H-08.shutdown-unexplained.5/acknowledge", formKind, "by=" + name},
	} {
		w := newWorld(t)
		rec := w.send(c.target, c.kind, c.body)
		if rec.Code != http.StatusUnprocessableEntity || w.count() != 0 {
			t.Errorf("%s is answered %d, and %d lines are written", c.target, rec.Code, w.count())
		}
		has(t, rec.Body.String(), "Nothing was written down")
		longest := strings.NewReplacer(note, note[:len(note)-len("ö")], node, node[:64], name, name[:60]).Replace(c.body)
		if rec := w.send(c.target, c.kind, longest); rec.Code >= 400 || w.count() != 1 {
			t.Errorf("the longest to %s is answered %d: %s", c.target, rec.Code, clip(rec.Body.String()))
		}
	}
}

// TestAStoppingDaemonIsTold sends what comes too late to be written down.
func TestAStoppingDaemonIsTold(t *testing.T) {
	w := newWorld(t, func(o *dashboards.Options) {
		o.Record = func(context.Context, record.Line) (int64, error) { return 0, ingest.ErrEnded }
	})
	rec := w.do("POST", "/heaters/H-07/refuel", url.Values{"by": {"Kim"}})
	if rec.Code != http.StatusServiceUnavailable {
		t.Errorf("answered %d", rec.Code)
	}
	has(t, rec.Body.String(), "stopping", "not written down", "again")
}

// What is under way when the daemon stops, or takes up another configuration, is
// no fault of its own; a report asked for before it has read what was kept is no
// mistake of the visitor.
func TestAPageInAReloadIsAskedForAgain(t *testing.T) {
	w := newWorld(t)
	r := httptest.NewRequest("GET", "/sites/quay", nil)
	r.Host = "localhost:8080"
	ctx, stop := context.WithCancel(r.Context())
	stop()
	rec := httptest.NewRecorder()
	w.handler.ServeHTTP(rec, r.WithContext(ctx))
	if rec.Code != http.StatusServiceUnavailable {
		t.Errorf("a page whose daemon went away: %d", rec.Code)
	}
	has(t, rec.Body.String(), "starting anew", "Ask again")

	w = newWorld(t, func(o *dashboards.Options) {
		v := o.View()
		v.At = 0
		o.View = viewOf(v)
	})
	rec = w.do("GET", "/reports/season", nil)
	if rec.Code != http.StatusServiceUnavailable {
		t.Errorf("a report of a daemon that has read nothing yet: %d", rec.Code)
	}
	has(t, rec.Body.String(), "only just started", "Ask again")
}

// TestJSONThatCallsItselfAFormIsSaidSo sends what a command-line client sends
// unless told otherwise: the answer says what is wrong, not that a value is
// missing that stands there.
func TestJSONThatCallsItselfAFormIsSaidSo(t *testing.T) {
	w := newWorld(t)
	rec := w.send("/api/v1/alarms/H-08.shutdown-unexplained.5/shelve", formKind, `{"for":"2h","by":"Kim","why":"parts"}`)
	if rec.Code != http.StatusUnsupportedMediaType || w.count() != 0 {
		t.Errorf("answered %d, %d lines written", rec.Code, w.count())
	}
	has(t, rec.Body.String(), "Content-Type: application/json")
	if rec := w.send("/api/v1/alarms/H-08.shutdown-unexplained.5/shelve", formKind, "for=2h&by=Kim&why=parts"); rec.Code != http.StatusOK {
		t.Errorf("a form is answered %d: %s", rec.Code, clip(rec.Body.String()))
	}
}
