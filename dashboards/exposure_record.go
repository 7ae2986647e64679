package dashboards

import "slices"

// recordRow is one line of the record as it is read: the day stands above its
// first line, and the zone beside a time only where it is not that of the line
// before.
type recordRow struct {
	exposureRow
	Day, Clock string
}

// Record are the lines of the record.
func (e exposurePage) Record() []recordRow {
	out := make([]recordRow, 0, len(e.Rows))
	day, zone := "", ""
	for _, r := range e.Rows {
		at := in(r.At, e.Period.Zone)
		row := recordRow{exposureRow: r, Clock: at.Format("15:04")}
		if z := at.Format("MST"); z != zone {
			row.Clock, zone = row.Clock+" "+z, z
		}
		if d := at.Format("Mon 2 Jan 2006"); d != day && !e.Period.OneDay() {
			row.Day, day = d, d
		}
		out = append(out, row)
	}
	return out
}

// AnyOver reports whether a figure of the record is at or over its limit.
func (e exposurePage) AnyOver() bool { return slices.ContainsFunc(e.Figures(), coFigure.Over) }
