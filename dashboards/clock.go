package dashboards

import (
	"fmt"
	"time"

	"heaterd/alerts/fold"
	"heaterd/ingest/reading"
)

// clock writes an instant in a zone, naming the zone.
func clock(i reading.Instant, zone *time.Location) string {
	if i == 0 {
		return "–"
	}
	return in(i, zone).Format("Mon 2 Jan 2006, 15:04 MST")
}

// brief is clock without the year, for times near now.
func brief(i reading.Instant, zone *time.Location) string {
	if i == 0 {
		return "–"
	}
	return in(i, zone).Format("Mon 2 Jan 15:04 MST")
}

func in(i reading.Instant, zone *time.Location) time.Time {
	if zone == nil {
		zone = time.UTC
	}
	return i.Time().In(zone)
}

// span writes a length of time in the one or two units that suit it, to the
// nearest: cut short, what took 1 h 59 min would pass for an hour.
func span(d time.Duration) string {
	s, m, h := d.Round(time.Second), d.Round(time.Minute), d.Round(time.Hour)
	switch {
	case s < 0:
		return "0 s"
	case s < time.Minute:
		return fmt.Sprintf("%d s", s/time.Second)
	case m < time.Hour:
		return fmt.Sprintf("%d min", m/time.Minute)
	case m < 2*oneDay:
		return units(m, time.Hour, "h", time.Minute, "min")
	case h < 10*oneDay:
		return units(h, oneDay, "days", time.Hour, "h")
	default:
		return fmt.Sprintf("%d days", d.Round(oneDay)/oneDay)
	}
}

const oneDay = 24 * time.Hour

// units writes a length of time in two units, or in the greater alone where
// nothing is left.
func units(d, great time.Duration, greats string, small time.Duration, smalls string) string {
	text := fmt.Sprintf("%d %s", d/great, greats)
	if rest := d % great / small; rest > 0 {
		text += fmt.Sprintf(" %d %s", rest, smalls)
	}
	return text
}

// ago writes how long before now something was.
func ago(i, now reading.Instant) string {
	if i == 0 {
		return "never"
	}
	return span(now.Sub(i)) + " ago"
}

// word writes when a heater's unit was last heard.
func word(h *fold.HeaterView, now reading.Instant, zone *time.Location) string {
	switch {
	case h.Fitted != 0:
		return "not heard yet since it was fitted at " + clock(h.Fitted, zone)
	case h.Heard == 0:
		return "never heard"
	default:
		return "heard " + ago(h.Heard, now)
	}
}

// soon writes a range of time until something, from its earliest to its
// latest; late 0: it may never come.
func soon(early, late time.Duration) string {
	switch {
	case early <= 0 && late <= 0:
		return "now"
	case late <= 0:
		return "not before " + span(early)
	case span(early) == span(late):
		return "in " + span(early)
	default:
		return "in " + span(early) + " to " + span(late)
	}
}
