package dashboards_test

import (
	"net/url"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/ledger"
	"heaterd/dashboards"
	"heaterd/dashboards/access"
	"heaterd/ingest/record"
)

// The refuel of yesterday is withdrawn on the page and by programs; all else is
// refused with what to do instead, and writes nothing.
func TestWithdrawalsBecomeLines(t *testing.T) {
	for _, c := range []struct {
		name, id string
		form     url.Values
		status   int
		says     string
	}{
		{"refuel", "4", url.Values{"by": {"Kim"}, "why": {"the heater beside it"}}, 0, ""},
		{"nameless", "4", url.Values{"why": {"x"}}, 422, "who you are"},
		{"without a reason", "4", url.Values{"by": {"Kim"}}, 422, "why the entry is withdrawn"},
		{"of two months ago", "3", url.Values{"by": {"Kim"}, "why": {"x"}}, 409, "up to 7 days"},
		{"no entry", "77", url.Values{"by": {"Kim"}, "why": {"x"}}, 404, "entry"},
		{"no number", "x", url.Values{"by": {"Kim"}, "why": {"x"}}, 404, "entry"},
		{"meter", "41", url.Values{"by": {"Kim"}, "why": {"x"}}, 409, "write down what the meter reads"},
		{"planned stop", "42", url.Values{"by": {"Kim"}, "why": {"x"}}, 409, "end it on the heater"},
		{"once more", "43", url.Values{"by": {"Kim"}, "why": {"x"}}, 409, "withdrawn by Lee"},
		{"of a heater that left", "44", url.Values{"by": {"Kim"}, "why": {"x"}}, 404, "H-99"},
	} {
		for prefix, done := range map[string]int{"/log/": 303, "/api/v1/entries/": 201} {
			t.Run(prefix+c.name, func(t *testing.T) {
				w := withWithdrawn(t)
				rec := w.do("POST", prefix+c.id+"/withdraw", c.form)
				if c.status != 0 {
					if rec.Code != c.status || w.count() > 0 || !strings.Contains(rec.Body.String(), c.says) {
						t.Errorf("status %d, want %d with %q, and %d lines: %s", rec.Code, c.status, c.says, w.count(), clip(rec.Body.String()))
					}
					return
				}
				want := record.Withdrawal{Heater: "H-07", Task: "refuel", At: instant(-20 * time.Hour), By: "Kim", Why: "the heater beside it"}
				if got := w.last(t).Withdraw; rec.Code != done || got == nil || *got != want {
					t.Errorf("status %d, written %+v, want %+v", rec.Code, got, want)
				}
			})
		}
	}
}

// withWithdrawn is a world with entries that cannot be withdrawn, one for each
// reason.
func withWithdrawn(t *testing.T, change ...func(*dashboards.Options)) *world {
	t.Helper()
	w := newWorld(t, change...)
	row := func(line int64, e record.Entry) ledger.EntryRow {
		e.By = "Kim"
		return ledger.EntryRow{Line: line, At: instant(-time.Duration(line) * time.Minute), Entry: e}
	}
	b := ledger.Batch{Cursor: 50, Entries: []ledger.EntryRow{
		row(41, record.Entry{Heater: "H-07", Task: "meter", MeterH: ptr(900.0)}),
		row(42, record.Entry{Heater: "H-07", Task: record.StopTask}),
		row(43, record.Entry{Heater: "H-07", Task: "photocell", MeterH: ptr(900.0)}),
		row(44, record.Entry{Heater: "H-99", Task: "photocell"}),
	}, Withdrawals: []ledger.WithdrawalRow{{Line: 43, Withdrawal: ledger.Withdrawal{At: instant(-40 * time.Minute), By: "Lee", Why: "it was H-08"}}}}
	if err := w.opts.Ledger.Commit(t.Context(), b); err != nil {
		t.Fatal(err)
	}
	return w
}

// A withdrawn entry stays listed everywhere, struck out and in words, and does
// not count.
func TestWithdrawnEntriesAreToldApart(t *testing.T) {
	w := withWithdrawn(t)
	for _, path := range []string{"/log", "/heaters/H-07", "/reports/service?heater=H-07"} {
		has(t, w.page(t, path), "<s>", "</s></b>, heater", "Withdrawn by Lee at", "it was H-08. It does not count.", "which still counts")
	}
	csv := w.do("GET", "/reports/service?heater=H-07&format=csv", nil).Body.String()
	has(t, csv, "withdrawn_at_utc,withdrawn_by,withdrawn_why", "Lee,it was H-08")
	has(t, w.do("GET", "/api/v1/entries?heater=H-07", nil).Body.String(), `"withdrawn": {`, `"by": "Lee"`, `"why": "it was H-08"`)

	plain := newWorld(t)
	if a, b := doneIn(t, plain), doneIn(t, w); a != b {
		t.Errorf("the season's report counts the withdrawn task: %q, without it %q", b, a)
	}
}

func doneIn(t *testing.T, w *world) string {
	t.Helper()
	body := w.do("GET", "/reports/season?format=csv", nil).Body.String()
	for _, l := range strings.Split(body, "\n") {
		if strings.Contains(l, "H-07") {
			return l
		}
	}
	t.Fatalf("no H-07 in %s", clip(body))
	return ""
}

// The control stands beside entries that may be withdrawn, for those who may.
func TestTheControlToWithdraw(t *testing.T) {
	w := withWithdrawn(t)
	page := w.page(t, "/log")
	has(t, page, `action="/log/4/withdraw"`)
	for _, id := range []string{"3", "41", "42", "43", "44"} {
		if strings.Contains(page, `action="/log/`+id+`/withdraw"`) {
			t.Errorf("entry %s can be withdrawn by the page", id)
		}
	}
	has(t, page, "heater H-99, in the configuration no more")
	if strings.Contains(w.page(t, "/reports/service?heater=H-07"), "/withdraw") {
		t.Error("the report has the control")
	}
	w = withWithdrawn(t, withUsers(t))
	seen := w.do("GET", "/log", nil, "Authorization", "Bearer secret-"+string(access.Viewer)).Body.String()
	if strings.Contains(seen, "/withdraw") || !strings.Contains(seen, "Service log") {
		t.Error("a viewer has the control")
	}
}
