package dashboards

import (
	"heaterd/alerts/service"
	"heaterd/dashboards/access"
)

// RouteRow is a row of the table of routes.
type RouteRow struct {
	Method, Pattern string
	Role            access.Role
	Program         bool
}

// RouteTable is the table of routes.
func RouteTable() []RouteRow {
	var out []RouteRow
	for _, r := range routes {
		out = append(out, RouteRow{r.Method, r.Pattern, r.Role, r.Program})
	}
	return out
}

// The parts that have tests of their own.
var (
	Text      = text
	LocalPath = localPath
	Duration  = duration
	Span      = span
)

// DueWords are when a task falls due, and the range.
func DueWords(st service.Standing, today service.Date) (due, likely string) {
	v := taskView{Standing: st, Today: today}
	return v.Due(), v.Likely()
}

// MeanBetween is the burner time between endings with its bounds.
var MeanBetween = meanBetween
