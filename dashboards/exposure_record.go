package dashboards

import "slices"

// recordRow is one line of the record as it is read: the day stands above its
// first line, and the zone beside a time only where it is not that of the line
// before. A stretch without a reading is one line, up to the next reading or day.
type recordRow struct {
	exposureRow
	Day, Clock string
	Until      string // no reading came until then; empty: one did
}

// Record are the lines of the record.
func (e exposurePage) Record() []recordRow {
	out := make([]recordRow, 0, len(e.Rows))
	day, zone := "", ""
	for _, r := range e.Rows {
		at := in(r.At, e.Period.Zone)
		row := recordRow{exposureRow: r, Clock: at.Format("15:04"), Until: e.empty(r)}
		d, z := at.Format("Mon 2 Jan 2006"), at.Format("MST")
		goes := d == day && z == zone // on from the line before
		if z != zone {
			row.Clock += " " + z
		}
		if d != day && !e.Period.OneDay() {
			row.Day = d
		}
		day, zone = d, z
		if n := len(out); goes && n > 0 && row.Until != "" && out[n-1].Until != "" {
			out[n-1].Until = row.Until
			continue
		}
		out = append(out, row)
	}
	return out
}

// empty gives the end of a stretch without a reading; empty for
// others.
func (e exposurePage) empty(r exposureRow) string {
	if r.Seen() {
		return ""
	}
	if end := in(min(r.At.Add(e.Step), e.Period.To), e.Period.Zone).Format("15:04"); end != "00:00" {
		return end
	}
	return "24:00"
}

// AnyOver reports whether a figure of the record is at or over its limit.
func (e exposurePage) AnyOver() bool { return slices.ContainsFunc(e.Figures(), coFigure.Over) }
