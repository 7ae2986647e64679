package dashboards

import (
	"strings"
	"time"

	"heaterd/alerts/service"
	"heaterd/dashboards/access"
	"heaterd/ingest/reading"
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

// RecordOf gives the lines of a record of quarter hours, those with readings
// and those without.
func RecordOf(zone *time.Location, from reading.Instant, readings ...int) (out []string) {
	e := exposurePage{Period: period{Zone: zone, To: from.Add(time.Duration(len(readings)) * time.Hour / 4)}, Step: 15 * time.Minute}
	for i, n := range readings {
		e.Rows = append(e.Rows, exposureRow{At: from.Add(time.Duration(i) * e.Step), N: n})
	}
	for _, r := range e.Record() {
		out = append(out, strings.TrimSuffix(r.Clock+" to "+r.Until, " to "))
	}
	return out
}
