package dashboards_test

import (
	"encoding/json"
	"math"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"heaterd/dashboards"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/store"
)

// TestPublishedShiftAverage reads the regulation's own example through the
// report: 2 h at 150, 2 h at 75 and 4 h at 50 ppm are 81.25 ppm over 8 h.
func TestPublishedShiftAverage(t *testing.T) {
	w := shiftWorld(t)
	rec := w.do("GET", "/api/v1/exposure?site=quay&space=hall", nil)
	var got struct {
		TWA8h    float64 `json:"twa_8h_ppm"`
		TWA15    float64 `json:"twa_15min_ppm"`
		Peak     float64 `json:"peak_ppm"`
		Rows     []struct{ Coverage float64 }
		Coverage float64
	}
	if err := json.Unmarshal(rec.Body.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	const want, within = 81.25, 0.2 // readings each minute, straight lines between them at the two steps
	t.Logf("8-hour average of 2 h at 150, 2 h at 75, 4 h at 50 ppm: 29 CFR 1910.1000(d)(1)(i): expected %.2f, got %.3f", want, got.TWA8h)
	if math.Abs(got.TWA8h-want) > within {
		t.Errorf("8-hour average %.3f ppm, want %.2f", got.TWA8h, want)
	}
	if got.Peak != 150 || math.Abs(got.TWA15-150) > 0.01 {
		t.Errorf("peak %v, 15-minute average %v, want 150 both", got.Peak, got.TWA15)
	}
	if c := got.Coverage; c < 8.0/15.1-0.01 || c > 8.0/15.0+0.02 {
		t.Errorf("coverage %.3f, want 8 h of the %s since midnight", c, "15 h")
	}
}

// TestAveragesBeginFull checks that the averages of a period's first row count
// the shift before it.
func TestAveragesBeginFull(t *testing.T) {
	w := newWorld(t)
	var got struct {
		Rows []struct {
			From  time.Time
			TWA8h float64 `json:"twa_8h_ppm"`
		}
	}
	if err := json.Unmarshal(w.do("GET", "/api/v1/exposure?site=quay&space=hall", nil).Body.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	first := got.Rows[0]
	if !first.From.Equal(time.Date(2026, 1, 14, 0, 0, 0, 0, time.UTC)) || first.TWA8h < 18 {
		t.Errorf("the first row is of %s with an 8-hour average of %.1f ppm, want midnight and some 20 ppm", first.From, first.TWA8h)
	}
}

// shiftWorld is the regulation's shift, measured each minute from 07:00 to
// 15:00 by a node of its own.
func shiftWorld(t *testing.T) *world {
	v := fixedView()
	v.Heaters[0].Node, v.Heaters[0].Configured, v.Sites[0].Spaces[0].Heaters = "shift", "shift", []string{"H-07"}
	v.Heaters[1].Site, v.Heaters[1].Space = "mill", "deck"
	w := newWorld(t, viewing(v))
	var lines []record.Line
	for m := range 8*60 + 1 {
		ppm := float32(150)
		switch {
		case m >= 240:
			ppm = 50
		case m >= 120:
			ppm = 75
		}
		x := reading.Sample{At: instant(time.Duration(m-484) * time.Minute), Has: reading.CO, CO: ppm}
		lines = append(lines, record.Line{At: x.At, Pack: &reading.Pack{Node: "shift", Samples: []reading.Sample{x}}})
	}
	if _, err := w.store.Keep(t.Context(), store.Batch{Lines: lines}); err != nil {
		t.Fatal(err)
	}
	return w
}

// TestTheRecordFitsATelephone checks that no figure of the record, and of the
// tables beside charts and seasons, has to be looked for sideways.
func TestTheRecordFitsATelephone(t *testing.T) {
	w := newWorld(t)
	server := httptest.NewServer(w.handler)
	defer server.Close()
	ctx := browser(t)
	for _, width := range []int64{320, 390} {
		for _, path := range []string{"/reports/exposure?site=quay&space=hall&from=2026-01-13&to=2026-01-14", "/reports/season?site=quay", "/heaters/H-07"} {
			if width < 390 && path == "/heaters/H-07" {
				continue // the figures of its chart scroll there
			}
			visit(t, ctx, server.URL, path, width)
			over, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](`(() => {
				document.querySelectorAll("details").forEach(d => d.open = true);
				return [...document.querySelectorAll("td, th")].filter(e => e.getBoundingClientRect().right > innerWidth).map(e => e.textContent);
			})()`))
			if err != nil || len(over) > 0 {
				t.Errorf("%s at %d px: beyond the edge: %q, %v", path, width, over, err)
			}
		}
	}
}

// TestTheRecordNamesItsDayOnce: neither the day nor the zone is said again in
// each line, and what is at or over its limit stands out.
func TestTheRecordNamesItsDayOnce(t *testing.T) {
	w := newWorld(t)
	day := w.page(t, "/reports/exposure?site=quay&space=hall")
	has(t, day, `<td role="cell">00:00 GMT</td>`, `<td role="cell">00:15</td>`, "hold what was measured before", "Underlined</b> in the record", "<b>")
	if strings.Contains(day, `class="date"`) {
		t.Error("a day is named in the record of that day")
	}
	has(t, w.page(t, "/reports/exposure?site=quay&space=hall&from=2026-01-13&to=2026-01-14"),
		`colspan="9">Tue 13 Jan 2026</th>`, `colspan="9">Wed 14 Jan 2026</th>`, `<td role="cell">01:00</td>`)
	none := w.page(t, "/reports/exposure?site=quay&space=hall&from=2024-01-13&to=2024-01-13")
	has(t, none, "Nothing was measured in this time.")
	if strings.Contains(none, "<table") {
		t.Error("a table of nothing")
	}
}

// TestTheRecordIsShort: a stretch without a reading is one line, and a zone is named
// where it changes, in the night when clocks go back in the middle of nothing.
func TestTheRecordIsShort(t *testing.T) {
	night := reading.InstantOf(time.Date(2025, 10, 26, 0, 0, 0, 0, time.UTC))
	for _, c := range []struct {
		from     time.Duration
		readings []int
		want     []string
	}{
		{0, []int{9, 0, 0, 0, 0, 0, 9}, []string{"01:00 IST", "01:15 to 01:00", "01:00 GMT to 01:30", "01:30"}},
		{24 * time.Hour, []int{0, 0}, []string{"00:00 GMT to 00:30"}},
		{47*time.Hour + 45*time.Minute, []int{0, 0}, []string{"23:45 GMT to 24:00", "00:00 to 00:15"}},
	} {
		if got := dashboards.RecordOf(zone("Europe/Dublin"), night.Add(c.from), c.readings...); !slices.Equal(got, c.want) {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

// TestTheLastWeekEndsTodayThere: where it is tomorrow already, the link to the
// last seven days left today out.
func TestTheLastWeekEndsTodayThere(t *testing.T) {
	v := fixedView()
	v.Sites[0].Zone = zone("Pacific/Auckland")
	w := newWorld(t, viewing(v))
	has(t, w.page(t, "/reports"), "from=2026-01-09&amp;to=2026-01-15", "from=2026-01-08&amp;to=2026-01-14", "from=2025-12-01&amp;to=2025-12-31")
}

// keepCO keeps a node's readings of an afternoon, one a minute up to now, with the
// flame coming and going every half hour.
func (w *world) keepCO(t *testing.T, node reading.NodeID, minutes int, ppm float32) {
	t.Helper()
	var lines []record.Line
	for m := -minutes; m < 0; m++ {
		x := reading.Sample{At: instant(time.Duration(m) * time.Minute), Has: reading.CO | reading.Flame, CO: ppm}
		if m/30%2 == 0 {
			x.On = reading.Flame
		}
		lines = append(lines, record.Line{At: x.At, Pack: &reading.Pack{Node: node, Samples: []reading.Sample{x}}})
	}
	if _, err := w.store.Keep(t.Context(), store.Batch{Lines: lines}); err != nil {
		t.Fatal(err)
	}
}

// TestOneOfTwoMeasures: what one unit of a space measured is measured, whatever
// the other did.
func TestOneOfTwoMeasures(t *testing.T) {
	w := shiftWorld(t)
	alone := w.air(t, "hall").Coverage
	v := w.opts.View()
	v.Heaters[1].Site, v.Heaters[1].Space, v.Heaters[1].Node, v.Heaters[1].Configured = "quay", "hall", "beside", "beside"
	w.keepCO(t, "beside", 30, 4)
	w.handler = dashboards.New(w.opts)
	if both := w.air(t, "hall"); both.Coverage < alone || both.Peak != 150 {
		t.Errorf("beside a unit that measured for half an hour: %+v, alone a coverage of %.3f", both, alone)
	}
}

// TestAStuckSensorMeasuresNothing: what it reads counts, and is no measurement.
func TestAStuckSensorMeasuresNothing(t *testing.T) {
	w := shiftWorld(t)
	w.keepCO(t, "beside", 13*60, 37)
	v := w.opts.View()
	v.Heaters[0].Node, v.Heaters[0].Configured = "beside", "beside"
	w.handler = dashboards.New(w.opts)
	if got := w.air(t, "hall"); got.Peak != 37 || got.Coverage > 0.6 {
		t.Errorf("of 13 h at the same value: %+v, want it to count as measured for the first hours only", got)
	}
}
