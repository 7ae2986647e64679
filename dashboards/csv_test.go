package dashboards_test

import (
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/ledger"
	"heaterd/dashboards"
	"heaterd/ingest/record"
)

func TestCellsAreNoFormulas(t *testing.T) {
	for in, want := range map[string]string{
		"=1+1": "'=1+1", "+353": "'+353", "-x": "'-x", "@SUM(A1)": "'@SUM(A1)", "\t=1": "'=1", "|cmd": "'|cmd", "plain": "plain", "": "", "a=b": "a=b", "two\nlines": "two lines",
	} {
		if got := dashboards.Text(in); got != want {
			t.Errorf("%q becomes %q, want %q", in, got, want)
		}
	}
}

func TestSheetsReadBack(t *testing.T) {
	w := newWorld(t)
	for path, want := range map[string]string{
		"/reports/exposure?site=quay&space=hall": "twa_8h_ppm",
		"/reports/service?heater=H-07":           "'=HYPERLINK(\"x\")",
		"/reports/season?site=quay":              "ending_unexplained",
		"/reports/alarms":                        "co-short-term",
	} {
		rec := w.do("GET", path+separator(path)+"format=csv", nil)
		rows, err := csv.NewReader(strings.NewReader(rec.Body.String())).ReadAll()
		if err != nil || len(rows) < 2 {
			t.Errorf("%s: %d rows, %v", path, len(rows), err)
			continue
		}
		found := false
		for _, r := range rows {
			for _, c := range r {
				found = found || c == want
			}
		}
		if !found {
			t.Errorf("%s: no cell %q", path, want)
		}
	}
}

func separator(path string) string {
	if strings.Contains(path, "?") {
		return "&"
	}
	return "?"
}

// The bounds are those of a constant rate (NIST/SEMATECH e-Handbook, apr451):
// 800 h with two failures at 90 %.
func TestPublishedMeanBetweenEndings(t *testing.T) {
	got := dashboards.MeanBetween(800, 2)
	t.Logf("HPP bounds, 800 h, 2 failures, 90 %% | NIST/SEMATECH e-Handbook apr451, computed | 127.07, 2251.2 | %.2f, %.1f", got.Low, got.High)
	if got.Hours != 400 || math.Abs(got.Low-127.07) > 0.01 || math.Abs(got.High-2251.2) > 0.1 {
		t.Errorf("%+v", got)
	}
	if none := dashboards.MeanBetween(800, 0); none.Hours != 0 || none.High != 0 || none.Low <= 0 {
		t.Errorf("without an ending: %+v", none)
	}
}

// hungUp is the answer to somebody who went away.
type hungUp struct{ heads int }

func (*hungUp) Header() http.Header       { return http.Header{} }
func (h *hungUp) WriteHeader(int)         { h.heads++ }
func (*hungUp) Write([]byte) (int, error) { return 0, errors.New("connection reset by peer") }

// TestWhoeverWentAwayIsAnsweredOnce: a page that tells of the fault came after
// the half of a file that had gone out.
func TestWhoeverWentAwayIsAnsweredOnce(t *testing.T) {
	w := newWorld(t)
	for _, path := range []string{"/service.ics", "/reports/alarms?format=csv"} {
		out := &hungUp{}
		r := httptest.NewRequest("GET", path, nil)
		r.Host = "localhost:8080"
		w.handler.ServeHTTP(out, r)
		if out.heads > 0 {
			t.Errorf("%s: another answer was begun %d times", path, out.heads)
		}
	}
}

// TestLongRecordsAreShownInPart: a page shows the newest few thousands at most,
// and says how many more the CSV has, which is read piece by piece.
func TestLongRecordsAreShownInPart(t *testing.T) {
	w := newWorld(t)
	b := ledger.Batch{Cursor: 9000}
	for i := range 2345 {
		at := instant(time.Duration(i-2345) * 4 * time.Minute) // six and a half days
		b.Entries = append(b.Entries, ledger.EntryRow{Line: int64(1000 + i), At: at, Entry: record.Entry{Heater: "H-07", Task: "refuel", By: "Kim"}})
		a := alarm.Alarm{ID: fmt.Sprint("H-07.fuel-low.", 100+i), Key: alarm.Key{Kind: alarm.FuelLow, Site: "quay", Heater: "H-07"}, N: 100 + i, Seq: 1}
		b.Transitions = append(b.Transitions, alarm.Transition{At: at, Alarm: a, From: alarm.Normal, To: alarm.Unacknowledged, Event: alarm.Raise})
	}
	if err := w.opts.Ledger.Commit(t.Context(), b); err != nil {
		t.Fatal(err)
	}
	for path, shown := range map[string]int{"/reports/service": 2000, "/reports/alarms": 500} {
		rows, err := csv.NewReader(strings.NewReader(w.page(t, path+"?format=csv"))).ReadAll()
		if err != nil || len(rows)-1 < 2345 {
			t.Errorf("%s: %d rows, %v", path, len(rows), err)
		}
		has(t, w.page(t, path), fmt.Sprintf("%d older ones are in the CSV", len(rows)-1-shown))
	}
	has(t, w.page(t, "/reports/alarms"), "fuel-low.2444") // the newest
}
