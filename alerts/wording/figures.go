package wording

import (
	"cmp"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"heaterd/ingest/reading"
)

// figure writes a value as people read it: 230 ppm, 4.5 °C, 12 %.
func figure(v float64, unit string) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return ""
	}
	switch unit {
	case "Cel":
		return number(v, 1) + " °C"
	case "/":
		return number(v*100, 0) + " %"
	case "%", "%EL":
		return number(v, 1) + " %"
	case "s":
		return span(time.Duration(v * float64(time.Second)))
	case "ppm":
		return number(v, decimals(v)) + " ppm"
	case "":
		return number(v, decimals(v))
	default:
		return number(v, decimals(v)) + " " + clip(clean(unit), 12)
	}
}

// beside writes a value with which side of its limit it is on where it reads the
// same: no sensor tells 35.002 ppm from 35.
func beside(v, limit float64, unit string) string {
	text := figure(v, unit)
	switch {
	case v == limit || text != figure(limit, unit) || text == "":
		return text
	case v > limit:
		return "just over " + text
	default:
		return "just under " + text
	}
}

func decimals(v float64) int {
	if math.Abs(v) >= 10 {
		return 0
	}
	return 1
}

// number writes v with at most so many decimals; figures too long to be
// meant are written with an exponent.
func number(v float64, decimals int) string {
	if math.Abs(v) >= 1e7 {
		return strconv.FormatFloat(v, 'g', 3, 64)
	}
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		return "0"
	}
	return s
}

// span writes a length of time in the one unit that suits it.
func span(d time.Duration) string {
	switch {
	case d < time.Minute:
		return fmt.Sprintf("%.0f s", d.Seconds())
	case d < 2*time.Hour:
		return fmt.Sprintf("%.0f min", d.Minutes())
	case d < 48*time.Hour:
		return number(d.Hours(), decimals(d.Hours())) + " h"
	default:
		return fmt.Sprintf("%.0f days", d.Hours()/24)
	}
}

// between writes a range of time, or one time where both ends read the same.
func between(early, late time.Duration) string {
	a, b := span(max(early, 0)), span(max(late, 0))
	if early >= time.Hour && late >= 2*time.Hour && late < 48*time.Hour { // not 116 min to 2.4 h
		a = number(early.Hours(), decimals(early.Hours())) + " h"
	}
	if a == b || late < early {
		return a
	}
	number, unit, _ := strings.Cut(a, " ")
	if strings.HasSuffix(b, " "+unit) {
		return number + " to " + b
	}
	return a + " to " + b
}

const (
	longClock  = "Mon 2 Jan 15:04 MST"
	shortClock = "2 Jan 15:04 MST"
	hourClock  = "15:04 MST"
)

// clock writes an instant in the site's time, naming the zone: by how far it is
// from UTC where it has no letters of its own.
func clock(i reading.Instant, zone *time.Location, layout string) string {
	if i == 0 {
		return ""
	}
	t := i.Time().In(cmp.Or(zone, time.UTC))
	if name, _ := t.Zone(); strings.ContainsAny(name, "+-") {
		layout = strings.Replace(layout, "MST", "UTC-07:00", 1)
	}
	return t.Format(layout)
}
