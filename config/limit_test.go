package config_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"heaterd/config"
)

// refused gives the problems of a file that must not be accepted, in a time
// that keeps hostile files harmless.
func refused(t *testing.T, text string) []config.Problem {
	t.Helper()
	began := time.Now()
	_, err := config.Parse("f.yaml", []byte(text), options())
	if took := time.Since(began); took > 20*time.Second {
		t.Errorf("took %s", took)
	}
	var wrong *config.Errors
	if !errors.As(err, &wrong) {
		t.Fatalf("got %v", err)
	}
	return wrong.Problems
}

func TestAliasesCannotMultiply(t *testing.T) {
	var b strings.Builder
	b.WriteString("version: 1\nheaters: []\nspare: [&a [" + strings.Repeat("{id: x},", 5000) + "]]\nsites:\n")
	for range 500 {
		b.WriteString("  - { id: quay, spaces: *a, contacts: *a }\n")
	}
	problems := refused(t, b.String())
	if !strings.Contains(fmt.Sprint(problems), "too much is repeated (*a)") {
		t.Errorf("nothing is said about aliases among %d problems", len(problems))
	}
}

func TestAnAliasOfItselfEnds(t *testing.T) {
	refused(t, "version: 1\nheaters: []\nsites: &a [*a]\n")
	refused(t, "version: 1\nheaters: []\nsites: &a { id: *a }\n")
}

func TestAliasesAreFollowed(t *testing.T) {
	cfg := parse(t, `
version: 1
sites:
  - { id: a, spaces: &s [{ id: hall }] }
  - { id: b, spaces: *s }
heaters: [{ id: H-1, site: b, space: hall }]
`)
	check(t, "spaces", len(cfg.Fleet.Sites[1].Spaces), 1)
}

func TestProblemsAreBounded(t *testing.T) {
	problems := refused(t, "version: 1\nsites: ["+strings.Repeat("1,", 20_000)+"]\nheaters: []\n")
	check(t, "problems", len(problems), 1001)
}

func TestFileIsBounded(t *testing.T) {
	problems := refused(t, strings.Repeat("#", 4<<20+1))
	check(t, "message", problems[0].Message, "the file has 4194305 bytes")
}

// Ten thousand heaters, written out, fit.
func TestLargeFleet(t *testing.T) {
	var b strings.Builder
	b.WriteString("version: 1\nsites:\n  - { id: quay, spaces: [{ id: hall }] }\nheaters:\n")
	const n = 10_000
	for i := range n {
		fmt.Fprintf(&b, `  - id: H-%05d
    node: n-%05d
    site: quay
    space: hall
    input_kw: 44
    burn_l_per_h: 4.4
    tank_l: 52
    thermostat: { setpoint_c: 12, differential_c: 2 }
    dusty: true
    hours_at_start: 412.5
    co_check_due: 2027-03-01
`, i, i)
	}
	check(t, "heaters", len(parse(t, b.String()).Fleet.Heaters), n)
}

func TestManyWrongReferencesEnd(t *testing.T) {
	var b strings.Builder
	b.WriteString("version: 1\nsites:\n")
	for i := range 3000 {
		fmt.Fprintf(&b, "- {id: site-%d}\n", i)
	}
	b.WriteString("heaters:\n")
	for i := range 3000 {
		fmt.Fprintf(&b, "- {id: h%d, site: sitx-%d, space: s}\n", i, i)
	}
	refused(t, b.String())
}

// TestDocumentedRangesHold tries each documented end and just beyond it.
func TestDocumentedRangesHold(t *testing.T) {
	for _, c := range []struct {
		key       string
		low, high float64
		text      string // %s stands for the value
	}{
		{"input_kw", 1, 2000, heaterWith("input_kw: %s")},
		{"burn_l_per_h", 0.1, 200, heaterWith("burn_l_per_h: %s")},
		{"tank_l", 1, 20_000, heaterWith("tank_l: %s")},
		{"hours_at_start", 0, 200_000, heaterWith("hours_at_start: %s")},
		{"setpoint_c", -20, 50, heaterWith("thermostat: { setpoint_c: %s, differential_c: 1 }")},
		{"differential_c", 0.1, 20, heaterWith("thermostat: { setpoint_c: 10, differential_c: %s }")},
		{"volume_m3", 1, 1_000_000, spaceWith("volume_m3: %s")},
		{"protect_above_c", -40, 80, spaceWith("protect_above_c: %s")},
		{"protect_below_c", -40, 80, spaceWith("protect_below_c: %s")},
		{"ceiling_ppm", 1, 1200, siteWith("limits: { ceiling_ppm: %s }")},
		{"short_term_ppm", 1, 1200, siteWith("limits: { short_term_ppm: %s }")},
		{"shift_ppm", 1, 1200, siteWith("limits: { shift_ppm: %s }")},
		{"dose_percent", 1, 20, siteWith("limits: { shift_ppm: 20, dose_percent: %s }")},
	} {
		t.Run(c.key, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				width := c.high - c.low
				x := rapid.Float64Range(c.low-width, c.high+width).Draw(t, "x")
				_, err := config.Parse("f.yaml", fmt.Appendf(nil, c.text, fmt.Sprint(x)), options())
				if inside := x >= c.low && x <= c.high; inside != (err == nil) {
					t.Fatalf("%v: %v", x, err)
				}
			})
			for _, x := range []float64{c.low, c.high} {
				if _, err := config.Parse("f.yaml", fmt.Appendf(nil, c.text, fmt.Sprint(x)), options()); err != nil {
					t.Errorf("the end %v is refused: %v", x, err)
				}
			}
		})
	}
}

func heaterWith(key string) string {
	return strings.Replace(least, "space: hall", "space: hall, "+key, 1)
}
func spaceWith(key string) string { return strings.Replace(least, "id: hall", "id: hall, "+key, 1) }
func siteWith(key string) string  { return strings.Replace(least, "id: quay", "id: quay, "+key, 1) }

func TestPublishedLimitsAsOwnFiguresAreNotDoubted(t *testing.T) {
	const figures = "limits: { ceiling_ppm: %v, short_term_ppm: %v, shift_ppm: %v, source: s }, time_zone: UTC, procedure: Ask"
	for _, c := range []struct {
		ceiling, shortTerm, shift float64
		warnings                  int
	}{
		{200, 100, 50, 0}, // NIOSH and Cal/OSHA ceiling; EH40 15 min; OSHA 8 h
		{200.5, 100, 50, 1},
		{200, 100.5, 50, 1},
		{200, 100, 50.5, 1},
		{90, 100, 50, 1}, // short term above the ceiling
		{40, 40, 40, 0},
	} {
		cfg := parse(t, siteWith(fmt.Sprintf(figures, c.ceiling, c.shortTerm, c.shift)))
		if len(cfg.Warnings) != c.warnings {
			t.Errorf("%v: %v", c, cfg.Warnings)
		}
	}
}

// The example of the published rule: 125,000 Btu/h, which is 36.6 kW, burns
// 0.926 US gallons of kerosene an hour, 3.5 L. Heat of No. 1 fuel by a secondary
// text.
func TestBurnRateByTheInput(t *testing.T) {
	for plate, want := range map[string]float64{"input_kw: 36.6": 3.5, "input_kw: 36.6, burn_l_per_h: 3.9": 3.9, "tank_l: 50": 0} {
		text := siteWith("limits: us-niosh, time_zone: UTC, procedure: Ask")
		text = strings.Replace(text, "space: hall", "space: hall, "+plate, 1)
		if got := parse(t, text).Fleet.Heaters[0].BurnLPerH; got != want {
			t.Errorf("%s: %v L/h, want %v", plate, got, want)
		}
	}
}

// TestPlateTolerance holds the input against kerosene's 37.6 MJ/L: 40 kW is
// 3.83 L/h, so 40 % more is 5.36 and 40 % less 2.30.
func TestPlateTolerance(t *testing.T) {
	for rate, doubted := range map[float64]bool{2.29: true, 2.31: false, 3.83: false, 5.35: false, 5.37: true} {
		text := siteWith("limits: us-niosh, time_zone: UTC, procedure: Ask")
		text = strings.Replace(text, "space: hall", fmt.Sprintf("space: hall, input_kw: 40, burn_l_per_h: %v", rate), 1)
		if got := len(parse(t, text).Warnings) > 0; got != doubted {
			t.Errorf("%v L/h: doubted %t", rate, got)
		}
	}
}
