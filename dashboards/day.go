package dashboards

import (
	"strings"

	"heaterd/alerts/service"
)

// days writes two days with a word between; what month and year they share
// stands once.
func days(a, b service.Date, word string) string {
	x, y, layout := dayTime(a), dayTime(b), "2"
	switch {
	case x.Year() != y.Year():
		layout = "2 Jan 2006"
	case x.Month() != y.Month():
		layout = "2 Jan"
	}
	return x.Format(layout) + " " + word + " " + b.Words()
}

// OneDay reports whether the period is one day.
func (p period) OneDay() bool { return p.First == p.Last }

// Words writes the period; one day stands for itself.
func (p period) Words() string {
	if p.OneDay() {
		return p.First.Words()
	}
	return days(p.First, p.Last, "to")
}

// Due says when the task falls due, or since when it has been; empty: nobody
// can say.
func (v taskView) Due() string {
	sure := v.DueEarly != nil && v.DueLate != nil && *v.DueEarly == *v.DueLate
	switch {
	case v.DueOn == nil:
		return ""
	case *v.DueOn == v.Today && v.ranOut():
		return "since today"
	case *v.DueOn == v.Today && sure:
		return "today"
	case *v.DueOn < v.Today && sure:
		return "since " + v.DueOn.Words()
	case *v.DueOn < v.Today:
		return "since about " + v.DueOn.Words()
	case sure:
		return "on " + v.DueOn.Words()
	default:
		return "about " + v.DueOn.Words()
	}
}

// ranOut reports whether its burner hours are past.
func (v taskView) ranOut() bool { return v.HoursLeft != nil && *v.HoursLeft < 0 }

// Likely is the range of days in which the task falls due; empty where there
// is one day only, or where it is past.
func (v taskView) Likely() string {
	early, late := v.DueEarly, v.DueLate
	switch {
	case early == nil || v.DueOn != nil && *v.DueOn < v.Today:
		return ""
	case late == nil:
		return "not before " + early.Words()
	case *early == *late:
		return ""
	default:
		return "between " + days(*early, *late, "and")
	}
}

// Left is how many burner hours are left, or by how many it is over.
func (v taskView) Left() string {
	switch h := v.HoursLeft; {
	case h == nil:
		return "–"
	case *h < 0:
		return "over by " + fixed(-*h, 1)
	default:
		return fixed(*h, 1)
	}
}

// StateText is the task's state as people read it.
func (v taskView) StateText() string { return strings.ReplaceAll(string(v.State), "-", " ") }
