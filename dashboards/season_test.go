package dashboards_test

import (
	"encoding/csv"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/fleet"
	"heaterd/alerts/ledger"
	"heaterd/alerts/outcome"
	"heaterd/ingest/record"
)

// season is the CSV of a season report: heater to column to cell.
func (w *world) season(t *testing.T, query string) map[string]map[string]string {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(w.page(t, "/reports/season?format=csv&"+query))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]map[string]string{}
	for _, r := range rows[1:] {
		out[r[0]] = map[string]string{}
		for i, name := range rows[0] {
			out[r[0]][name] = r[i]
		}
	}
	return out
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// movedWorld is H-07 carried from the quay to the mill at a moment of the last day.
func movedWorld(t *testing.T, after time.Duration) *world {
	v := fixedView()
	v.Heaters[0].Site, v.Heaters[0].Space, v.Heaters[0].Lit = "mill", "deck", false
	w := newWorld(t, viewing(v))
	hall := fleet.Heater{ID: "H-07", Site: "quay", Space: "hall", Node: "n-07"}
	deck := hall
	deck.Site, deck.Space = "mill", "deck"
	w.place(t, -30*24*time.Hour, hall)
	w.place(t, after, deck)
	return w
}

func (w *world) place(t *testing.T, at time.Duration, heaters ...fleet.Heater) {
	t.Helper()
	if err := w.opts.Ledger.Place(t.Context(), instant(at), heaters); err != nil {
		t.Fatal(err)
	}
}

// TestASeasonIsOfThePlace checks that each site has the hours, burns, endings
// and work of the time that a heater stood there, and that nothing is lost.
func TestASeasonIsOfThePlace(t *testing.T) {
	v := fixedView()
	v.Heaters[0].Lit = false
	whole := newWorld(t, viewing(v)).season(t, "site=quay")["H-07"]
	move := -24*time.Hour + 8*88*time.Minute + 10*time.Minute // ten minutes into the ninth burn of 40
	w := movedWorld(t, move)
	work := ledger.EntryRow{Line: 9, At: instant(-time.Hour), Entry: record.Entry{Heater: "H-07", Task: "photocell", By: "Jo"}}
	if err := w.opts.Ledger.Commit(t.Context(), ledger.Batch{Cursor: 9, Entries: []ledger.EntryRow{work}}); err != nil {
		t.Fatal(err)
	}
	quay, mill := w.season(t, "site=quay")["H-07"], w.season(t, "site=mill")["H-07"]
	if quay == nil || mill == nil {
		t.Fatalf("the heater is not at both sites: %v, %v", quay, mill)
	}
	sum := func(column string) float64 { return number(t, quay[column]) + number(t, mill[column]) }
	if got, want := sum("burn_hours"), number(t, whole["burn_hours"]); math.Abs(got-want) > 0.011 {
		t.Errorf("%.2f h at both together, want %.2f", got, want)
	}
	if got, want := number(t, quay["burn_hours"]), (8*40+10)/60.0; math.Abs(got-want) > 0.006 {
		t.Errorf("%.2f h at the first, want %.2f", got, want)
	}
	if quay["burns"] != "8" || mill["burns"] != "8" {
		t.Errorf("%s and %s burns, want 8 each: one across the move counts where it ended", quay["burns"], mill["burns"])
	}
	for _, e := range outcome.Endings() {
		if c := "ending_" + string(e); sum(c) != number(t, whole[c]) {
			t.Errorf("%s: %s and %s, want %s together", c, quay[c], mill[c], whole[c])
		}
	}
	if low, high := number(t, quay["burn_hours_low"]), number(t, quay["burn_hours_high"]); math.Abs(low-8*40/60.0) > 0.006 || math.Abs(high-9*40/60.0) > 0.006 {
		t.Errorf("between %.2f and %.2f h at the first, want the burn across the move not at all and wholly", low, high)
	}
	if quay["work_done"] != "2" || mill["work_done"] != "1" {
		t.Errorf("work done: %s and %s", quay["work_done"], mill["work_done"])
	}
	if quay["space"] != "hall" || mill["space"] != "deck" {
		t.Errorf("spaces %q and %q", quay["space"], mill["space"])
	}
	has(t, w.page(t, "/reports/season?site=quay"), "H-07 stood here until Wed 14 Jan 2026, 02:58 GMT, and stands at Mill Road bridge deck now", "H-07 burned across a move: its hours here are between 5.3 and 6 h.")
	has(t, w.page(t, "/reports/season?site=mill"), "H-07 stood here from Tue 13 Jan 2026, 20:58 CST:")
	if strings.Contains(w.page(t, "/reports/season?site=quay"), "☐ H-07") {
		t.Error("a heater is to be put away where it stands no more")
	}
}

// TestABurnIsOfOneSeason checks that a burn across the end of a period counts
// once, where it ended, and its hours on both sides.
func TestABurnIsOfOneSeason(t *testing.T) {
	w := newWorld(t)
	night := ledger.BurnRow{Burn: *burn("H-08", -16*time.Hour, -14*time.Hour, outcome.Unexplained), Final: true} // 23:04 to 01:04
	if err := w.opts.Ledger.Commit(t.Context(), ledger.Batch{Cursor: 9, Burns: []ledger.BurnRow{night}}); err != nil {
		t.Fatal(err)
	}
	first, second := w.season(t, "site=quay&from=2026-01-01&to=2026-01-13")["H-08"], w.season(t, "site=quay&from=2026-01-14")["H-08"]
	if first["burns"] != "0" || first["ending_unexplained"] != "0" || second["burns"] != "1" || second["ending_unexplained"] != "1" {
		t.Errorf("burns %s and %s, unexplained %s and %s", first["burns"], second["burns"], first["ending_unexplained"], second["ending_unexplained"])
	}
	if a, b := number(t, first["burn_hours"]), number(t, second["burn_hours"]); math.Abs(a-0.93) > 0.01 || math.Abs(b-1.07) > 0.01 {
		t.Errorf("%.2f and %.2f h", a, b)
	}
}

// TestASeasonOfAHeaterThatLeft checks that what a heater did stays in the
// season when the configuration has it no more.
func TestASeasonOfAHeaterThatLeft(t *testing.T) {
	v := fixedView()
	v.Heaters = v.Heaters[1:]
	w := newWorld(t, viewing(v))
	w.place(t, -30*24*time.Hour, fleet.Heater{ID: "H-07", Site: "quay", Space: "hall", Node: "n-07"})
	w.place(t, -time.Minute)
	got := w.season(t, "site=quay")["H-07"]
	if got["burns"] != "16" || got["hours_total"] != "" || got["space"] != "hall" {
		t.Errorf("%v", got)
	}
	has(t, w.page(t, "/reports/season?site=quay"), "H-07 stood here until Wed 14 Jan 2026, 15:03 GMT, and is in the configuration no more")
}

// TestWorkIsOfThePlace checks that the log and the service record of a site
// are of the time that a heater stood there, in that site's hours.
func TestWorkIsOfThePlace(t *testing.T) {
	w := movedWorld(t, -12*time.Hour) // between the fixture's refuel and now
	work := ledger.EntryRow{Line: 9, At: instant(-time.Hour), Entry: record.Entry{Heater: "H-07", Task: "photocell", By: "Jo", Note: "At the mill."}}
	late := ledger.EntryRow{Line: 10, At: instant(-time.Hour), Entry: record.Entry{Heater: "H-07", Task: "photocell", By: "Jo", Note: "Still at the quay.", Done: instant(-13 * time.Hour)}}
	if err := w.opts.Ledger.Commit(t.Context(), ledger.Batch{Cursor: 9, Entries: []ledger.EntryRow{work, late}}); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"/log?site=", "/reports/service?site=", "/reports/service?format=csv&site="} {
		quay, mill := w.page(t, path+"quay"), w.page(t, path+"mill")
		has(t, quay, "Filter torn, replaced.", "Still at the quay.")
		has(t, mill, "At the mill.")
		if strings.Contains(quay, "At the mill.") || strings.Contains(mill, "Filter torn") || strings.Contains(mill, "Still at") {
			t.Errorf("%s: work stands where it was not done", path)
		}
	}
	page := w.page(t, "/reports/service?heater=H-07")
	has(t, page, "</a>, then at Quay Street hall, Main hall, Tue 13 Jan 2026, 19:04 GMT", "</a>, Wed 14 Jan 2026, 08:04 CST")
	has(t, w.page(t, "/reports/service?format=csv"), ",2026-01-13T19:04:00Z,,,quay,hall,,,\r\n", ",2026-01-14T14:04:00Z,,,mill,deck,,,\r\n")
	if rec := w.do("GET", "/reports/service?site=none", nil); rec.Code != 404 {
		t.Errorf("a site that never was: %d", rec.Code)
	}
}

// TestASeasonCountsTheBurnInProgress checks that a heater which has been lit
// for weeks is not told to have run for no hour, nor to have ended a burn.
func TestASeasonCountsTheBurnInProgress(t *testing.T) {
	for name, c := range map[string]struct {
		seen      time.Duration
		low, high float64
		says      string
	}{
		"heard":  {-time.Second, 12 * 24, 12 * 24, "H-08 is burning: 288.0 h of its hours are of the burn in progress, which is no burn of the table until it ends."},
		"silent": {-24 * time.Hour, 11 * 24, 12 * 24, "until it ends; 288.0 h if it burned on since it was heard."},
	} {
		t.Run(name, func(t *testing.T) {
			v := fixedView()
			v.Heaters[1].Lit, v.Heaters[1].LitSince, v.Heaters[1].LitSeen = true, instant(-12*24*time.Hour), instant(c.seen)
			w := newWorld(t, viewing(v))
			got := w.season(t, "site=quay")["H-08"]
			if low, high := number(t, got["burn_hours_low"]), number(t, got["burn_hours_high"]); math.Abs(low-c.low) > 0.02 || math.Abs(high-c.high) > 0.02 || got["burn_hours"] != got["burn_hours_low"] {
				t.Errorf("%s h, between %.2f and %.2f, want %.0f to %.0f", got["burn_hours"], low, high, c.low, c.high)
			}
			if got["burns"] != "0" || number(t, got["fuel_estimate_l"]) < c.low*2.9-1 {
				t.Errorf("%v", got)
			}
			v.Heaters[0].LitSince = instant(-time.Minute) // of the one beside it
			has(t, w.page(t, "/reports/season?site=quay"), "H-07 is burning: less than 0.1 h", strings.ReplaceAll(c.says, "288.0", "288"))
			if past := w.season(t, "site=quay&from=2026-01-10&to=2026-01-10")["H-08"]; past["burn_hours"] != "24" {
				t.Errorf("of one day in it %s h", past["burn_hours"])
			}
		})
	}
}

// TestASeasonSaysSinceWhenItIsKnown: what burned before heaterd was there is
// not nothing.
func TestASeasonSaysSinceWhenItIsKnown(t *testing.T) {
	v := fixedView()
	v.Begin = instant(-30 * time.Hour)
	w := newWorld(t, viewing(v))
	has(t, w.page(t, "/reports/season?site=quay"), "The record begins at Tue 13 Jan 2026, 09:04 GMT.")
}

// TestWhatWasPutAwayIsTicked: a heater whose putting away is written down does
// not stand in the list as if nobody had.
func TestWhatWasPutAwayIsTicked(t *testing.T) {
	w := newWorld(t)
	before := w.page(t, "/reports/season?site=quay")
	row := ledger.EntryRow{Line: 60, At: instant(-time.Hour), Entry: record.Entry{Heater: "H-08", Task: "put-away", By: "Kim"}}
	if err := w.opts.Ledger.Commit(t.Context(), ledger.Batch{Cursor: 60, Entries: []ledger.EntryRow{row}}); err != nil {
		t.Fatal(err)
	}
	after := w.page(t, "/reports/season?site=quay")
	if strings.Contains(before, "☑") || strings.Count(after, "☑") != 1 || !strings.Contains(after, `☑ H-08 <span class="soft">put away `) {
		_, list, _ := strings.Cut(after, "To put away")
		t.Errorf("%s", list[:min(len(list), 400)])
	}
}

// TestTheTimeBetweenEndingsHasItsTenths: a heater that goes out every quarter of
// an hour is not told to do so after no time; one that never did is not told
// to have run for so long only.
func TestTheTimeBetweenEndingsHasItsTenths(t *testing.T) {
	w := newWorld(t)
	b := ledger.Batch{Cursor: 2}
	for i := range 8 {
		from := -6*time.Hour + time.Duration(i)*20*time.Minute
		b.Burns = append(b.Burns,
			ledger.BurnRow{Burn: *burn("H-08", from, from+15*time.Minute, outcome.Unexplained), Final: true},
			ledger.BurnRow{Burn: *burn("H-09 <b>&\"x\"", from, from+15*time.Minute, outcome.Satisfied), Final: true})
	}
	if err := w.opts.Ledger.Commit(t.Context(), b); err != nil {
		t.Fatal(err)
	}
	has(t, w.page(t, "/reports/season?site=quay"), `endings">0.3 h <span class="soft">(0.1 to 0.5 h)</span>`, `endings">over 0.9 h <span class="soft">(there was none)</span>`)
}
