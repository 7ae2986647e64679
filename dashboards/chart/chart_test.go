package chart_test

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"heaterd/dashboards/chart"
	"heaterd/ingest/reading"
)

func load(t testing.TB, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

// day is the chart of one civil day.
func day(z *time.Location, y int, m time.Month, d int) chart.Chart {
	return chart.Chart{
		ID: "c", Title: "t", Desc: "d", Zone: z, Width: 960,
		From: reading.InstantOf(time.Date(y, m, d, 0, 0, 0, 0, z)), To: reading.InstantOf(time.Date(y, m, d+1, 0, 0, 0, 0, z)),
	}
}

var label = regexp.MustCompile(`<text class="label" x="([0-9.]+)"[^>]*>([^<]+)</text>`)

// places gives where each label of the time axis stands.
func places(t *testing.T, svg string) map[string]float64 {
	t.Helper()
	out := map[string]float64{}
	for _, m := range label.FindAllStringSubmatch(svg, -1) {
		x, err := strconv.ParseFloat(m[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		out[m[2]] = x
	}
	return out
}

// TestAxisKeepsTheClock checks the axis on the days of the clock changes: the
// labels are whole hours of the site's clock, and an hour is as wide as it
// lasts.
func TestAxisKeepsTheClock(t *testing.T) {
	dublin, chicago, lord := load(t, "Europe/Dublin"), load(t, "America/Chicago"), load(t, "Australia/Lord_Howe")
	for _, c := range []struct {
		name  string
		chart chart.Chart
		hours float64 // that the day lasts
		to06  float64 // hours from midnight to 06:00 by the clock
		zone  string
	}{
		{"winter", day(dublin, 2026, 1, 14), 24, 6, "GMT (Europe/Dublin)"},
		{"spring", day(dublin, 2026, 3, 29), 23, 5, "GMT, then IST (Europe/Dublin)"},
		{"autumn", day(dublin, 2026, 10, 25), 25, 7, "IST, then GMT (Europe/Dublin)"},
		{"spring, west", day(chicago, 2026, 3, 8), 23, 5, "CST, then CDT (America/Chicago)"},
		{"half an hour", day(lord, 2026, 4, 5), 24.5, 6.5, "+11, then +1030 (Australia/Lord_Howe)"},
	} {
		t.Run(c.name, func(t *testing.T) {
			svg := string(c.chart.Draw())
			at := places(t, svg)
			if !strings.Contains(svg, "Times in "+c.zone) {
				t.Errorf("the zone is not named %q", c.zone)
			}
			width := 960.0 - 44 - 12
			want := 44 + width*c.to06/c.hours
			if got := at["06:00"]; math.Abs(got-want) > 0.11 {
				t.Errorf("06:00 stands at %.1f, want %.1f", got, want)
			}
		})
	}
}

// TestAPhoneHasHours: a day as wide as a phone still says when.
func TestAPhoneHasHours(t *testing.T) {
	c := day(load(t, "Europe/Dublin"), 2026, 1, 14)
	c.Width = 340
	at := places(t, string(c.Draw()))
	for _, hour := range []string{"06:00", "12:00", "18:00"} {
		if at[hour] == 0 {
			t.Errorf("%s is not named: %v", hour, at)
		}
	}
}

// TestNothingIsDrawnAcrossASilence checks that a step without a reading ends
// the line.
func TestNothingIsDrawnAcrossASilence(t *testing.T) {
	c := day(time.UTC, 2026, 1, 14)
	p := chart.Panel{Name: "CO", Unit: "ppm", Step: time.Hour}
	for _, h := range []int{0, 1, 2, 5, 6} {
		p.Points = append(p.Points, chart.Point{At: c.From.Add(time.Duration(h) * time.Hour), Min: 1, Mean: 2, Max: 3})
	}
	c.Lines = []chart.Panel{p}
	if n := strings.Count(string(c.Draw()), `class="line"`); n != 2 {
		t.Errorf("%d lines, want 2", n)
	}
}

// TestAFarLimitDoesNotFlattenTheLine checks that values well under the lowest
// limit can be read, and that no limit goes unnamed for it.
func TestAFarLimitDoesNotFlattenTheLine(t *testing.T) {
	c := day(time.UTC, 2026, 1, 14)
	p := chart.Panel{Name: "CO", Unit: "ppm", Step: time.Hour, Marks: []chart.Mark{{Value: 200, Name: "ceiling 200 ppm"}, {Value: 35, Name: "8 h 35 ppm"}}}
	for h := range 3 {
		p.Points = append(p.Points, chart.Point{At: c.From.Add(time.Duration(h) * time.Hour), Min: 1, Mean: 2, Max: 3})
	}
	c.Lines = []chart.Panel{p}
	svg := string(c.Draw())
	if !strings.Contains(svg, "ceiling 200 ppm, above this scale") || !strings.Contains(svg, ">8 h 35 ppm<") || strings.Contains(svg, ">100</text>") {
		t.Errorf("drawn:\n%s", svg)
	}
	c.Lines[0].Points[2].Max = 180
	if svg := string(c.Draw()); strings.Contains(svg, "above this scale") {
		t.Error("a limit that is near is not drawn where it lies")
	}
}

func TestEndingsAreMarkedByShapeAndLetter(t *testing.T) {
	letters, shapes := map[string]bool{}, map[string]bool{}
	for _, s := range chart.Signs() {
		shape, _, _ := strings.Cut(s.SVG(), "<text")
		if s.Letter == "" || s.Word == "" || letters[s.Letter] || shapes[shape] {
			t.Errorf("%s is not told apart by shape, letter and word", s.Ending)
		}
		letters[s.Letter], shapes[shape] = true, true
	}
}

// TestDrawIsAlwaysWellFormed draws anything and reads it back as XML; no
// coordinate may leave the drawing, whatever the values.
func TestDrawIsAlwaysWellFormed(t *testing.T) {
	zones := []string{"UTC", "Europe/Dublin", "America/Chicago", "Australia/Lord_Howe", "Pacific/Apia"}
	rapid.Check(t, func(t *rapid.T) {
		z, err := time.LoadLocation(rapid.SampledFrom(zones).Draw(t, "zone"))
		if err != nil {
			t.Fatal(err)
		}
		from := reading.Instant(rapid.Int64Range(0, 4e15).Draw(t, "from"))
		c := chart.Chart{
			ID: "c", Title: rapid.String().Draw(t, "title"), Desc: "<&\">", Zone: z, From: from,
			To: from.Add(time.Duration(rapid.Int64Range(0, int64(400*24*time.Hour)).Draw(t, "length"))), Width: rapid.IntRange(-5, 2000).Draw(t, "width"), Flame: true,
		}
		value := rapid.SampledFrom([]float64{0, -3, 1e9, math.NaN(), math.Inf(1), 42, 1e-9})
		p := chart.Panel{Name: "CO", Unit: "ppm", Step: time.Minute, Marks: []chart.Mark{{Value: value.Draw(t, "mark"), Name: "<limit>"}}}
		for i := range rapid.IntRange(0, 20).Draw(t, "points") {
			v := value.Draw(t, "v")
			p.Points = append(p.Points, chart.Point{At: from.Add(time.Duration(i) * time.Minute), Min: v, Mean: v, Max: v})
		}
		c.Lines = []chart.Panel{p}
		c.Burns = []chart.Burn{{Stretch: chart.Stretch{From: from - 5, To: c.To + 5}, Ending: "unexplained"}}
		wellFormed(t, string(c.Draw()))
	})
}

func wellFormed(t *rapid.T, svg string) {
	d := xml.NewDecoder(strings.NewReader(svg))
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			return
		}
		if err != nil {
			t.Fatalf("not well-formed: %v\n%s", err, svg)
		}
		if e, ok := tok.(xml.StartElement); ok {
			for _, a := range e.Attr {
				if strings.Contains(a.Value, "NaN") || strings.Contains(a.Value, "Inf") {
					t.Fatalf("%s %s=%q", e.Name.Local, a.Name.Local, a.Value)
				}
			}
		}
	}
}

func ExampleZoneName() {
	z, err := time.LoadLocation("Europe/Dublin")
	if err != nil {
		return
	}
	at := reading.InstantOf(time.Date(2026, 3, 29, 0, 30, 0, 0, time.UTC))
	fmt.Println(chart.ZoneName(z, at, at))
	fmt.Println(chart.ZoneName(z, at, at.Add(2*time.Hour)))
	// Output:
	// GMT (Europe/Dublin)
	// GMT, then IST (Europe/Dublin)
}

// air is a CO panel with a limit far above what is measured.
func air(low float64) chart.Panel {
	return chart.Panel{
		Name: "CO, area reading", Unit: "ppm", Step: time.Minute, Least: 10,
		Points: []chart.Point{{Min: low, Mean: 1, Max: 2}},
		Marks:  []chart.Mark{{Value: 20, Name: "8 h average limit 20 ppm"}, {Value: 100, Name: "15 min average limit 100 ppm"}},
	}
}

// On a phone the name of a panel and what lies above its scale stand in two
// rows; where there is room, in one.
func TestNamesDoNotOverlap(t *testing.T) {
	row := regexp.MustCompile(`y="([0-9.]+)"[^>]*>(?:CO, area|15 min)`)
	for width, apart := range map[int]float64{360: 14, 960: 2} {
		c := day(time.UTC, 2026, 1, 12)
		c.Width, c.Lines = width, []chart.Panel{air(0)}
		found := row.FindAllStringSubmatch(string(c.Draw()), -1)
		if len(found) != 2 {
			t.Fatalf("%d wide: found %v", width, found)
		}
		name, _ := strconv.ParseFloat(found[0][1], 64)
		mark, _ := strconv.ParseFloat(found[1][1], 64)
		if mark-name != apart {
			t.Errorf("%d wide: rows %v and %v, want them %v apart", width, name, mark, apart)
		}
	}
}

// TestSignsAtABusyTime draws endings that lie closer than their signs are
// wide: each keeps its shape, and no letter stands on another.
func TestSignsAtABusyTime(t *testing.T) {
	c := day(time.UTC, 2026, 1, 12)
	c.Flame = true
	for m := range 60 { // one every six minutes, 3.8 units apart
		at := c.From.Add(6*time.Hour + time.Duration(m)*6*time.Minute)
		c.Burns = append(c.Burns, chart.Burn{Stretch: chart.Stretch{From: at, To: at}, Ending: "unexplained"})
	}
	svg := string(c.Draw())
	if n := strings.Count(svg, `class="sign bad"`); n != 60 {
		t.Errorf("%d signs for 60 endings", n)
	}
	last, letters := 0.0, 0
	for _, m := range regexp.MustCompile(`translate\(([0-9.]+) [0-9.]+\)">[^g]*class="sign bad"[^>]*><text`).FindAllStringSubmatch(svg, -1) {
		x, _ := strconv.ParseFloat(m[1], 64)
		if letters++; letters > 1 && math.Abs(x-last) < 18 {
			t.Errorf("letters at %v and %v", last, x)
		}
		last = x
	}
	if letters < 10 {
		t.Errorf("%d letters only", letters)
	}
}

// TestNamesOfNearLimits draws limits that lie close to each other.
func TestNamesOfNearLimits(t *testing.T) {
	c := day(time.UTC, 2026, 1, 12)
	p := chart.Panel{Name: "Temperature", Unit: "°C", Step: time.Minute, Least: 5, Points: []chart.Point{{Min: 0, Mean: 10, Max: 20}}}
	for i, name := range []string{"one", "two", "three"} {
		p.Marks = append(p.Marks, chart.Mark{Value: 10 + float64(i)/10, Name: name})
	}
	c.Lines = []chart.Panel{p}
	var rows []float64
	for _, m := range regexp.MustCompile(`y="([0-9.]+)"[^>]*>(?:one|two|three)<`).FindAllStringSubmatch(string(c.Draw()), -1) {
		y, _ := strconv.ParseFloat(m[1], 64)
		for _, other := range rows {
			if math.Abs(y-other) < 11 {
				t.Errorf("names at %v and %v", other, y)
			}
		}
		rows = append(rows, y)
	}
	if len(rows) != 3 {
		t.Errorf("%d names for three limits", len(rows))
	}
}

// A sensor whose zero is a little low does not make a scale of air with less
// than none; one that is far off shows.
func TestALittleBelowZeroIsNoScale(t *testing.T) {
	for low, want := range map[float64]bool{0: false, -1.2: false, -14: true} {
		c := day(time.UTC, 2026, 1, 12)
		c.Lines = []chart.Panel{air(low)}
		svg := string(c.Draw())
		if got := regexp.MustCompile(`>-[0-9]+<`).MatchString(svg); got != want || !strings.Contains(svg, ">0<") {
			t.Errorf("lowest %v ppm: labels below zero: %v, want %v", low, got, want)
		}
	}
}

// TestDaysBegin: a day is named where it begins, also where its midnight is
// skipped, and an hour that comes twice where it first comes.
func TestDaysBegin(t *testing.T) {
	x := func(c chart.Chart, at string) float64 {
		when, _ := time.Parse(time.RFC3339, at)
		return 44 + (960.0-44-12)*reading.InstantOf(when).Sub(c.From).Hours()/c.To.Sub(c.From).Hours()
	}
	around := func(zone string, y int, m time.Month, d int, days int) chart.Chart {
		c := day(load(t, zone), y, m, d)
		c.From, c.To = c.From.Add(-time.Duration(days)*12*time.Hour), c.From.Add(time.Duration(days)*12*time.Hour)
		return c
	}
	for _, c := range []struct {
		chart     chart.Chart
		label, at string
	}{
		{around("America/Santiago", 2026, 9, 6, 1), "Sun 6 Sep", "2026-09-06T04:00:00Z"},
		{around("Africa/Cairo", 2026, 4, 24, 1), "Fri 24 Apr", "2026-04-23T22:00:00Z"},
		{around("Asia/Beirut", 2026, 3, 29, 1), "Sun 29 Mar", "2026-03-28T22:00:00Z"},
		{around("America/Santiago", 2026, 9, 6, 12), "6 Sep", "2026-09-06T04:00:00Z"},
		{around("Europe/Dublin", 2026, 10, 25, 1), "Sun 25 Oct", "2026-10-24T23:00:00Z"},
		{day(load(t, "Europe/Berlin"), 2026, 10, 25), "02:00", "2026-10-25T00:00:00Z"},
	} {
		got := places(t, string(c.chart.Draw()))[c.label]
		if want := x(c.chart, c.at); math.Abs(got-want) > 0.11 {
			t.Errorf("%v: %s stands at %.1f, want %.1f", c.chart.Zone, c.label, got, want)
		}
	}
}
