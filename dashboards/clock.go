package dashboards

import (
	"fmt"
	"time"

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

// span writes a length of time in the one or two units that suit it.
func span(d time.Duration) string {
	switch {
	case d < 0:
		return "0 s"
	case d < time.Minute:
		return fmt.Sprintf("%.0f s", d.Seconds())
	case d < time.Hour:
		return fmt.Sprintf("%d min", int(d.Minutes()))
	case d < 48*time.Hour && int(d.Minutes())%60 == 0:
		return fmt.Sprintf("%d h", int(d.Hours()))
	case d < 48*time.Hour:
		return fmt.Sprintf("%d h %d min", int(d.Hours()), int(d.Minutes())%60)
	default:
		return fmt.Sprintf("%d days", int(d.Hours()/24))
	}
}

// ago writes how long before now something was.
func ago(i, now reading.Instant) string {
	if i == 0 {
		return "never"
	}
	return span(now.Sub(i)) + " ago"
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
