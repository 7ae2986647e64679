package dashboards

import "heaterd/dashboards/access"

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

// MeanBetween is the burner time between endings with its bounds.
var MeanBetween = meanBetween
