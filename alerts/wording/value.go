package wording

import (
	"cmp"

	"heaterd/alerts/alarm"
)

func (f *Facts) figure(which string, short bool) string {
	if !f.HasValue {
		return ""
	}
	v := f.Value
	if which == "limit" {
		v = f.Limit
	}
	if which == "limit" && f.unlimited() {
		return ""
	}
	if which == "value" && f.recovering() {
		return f.recovery(short)
	}
	text := figure(v, f.Unit)
	switch {
	case which == "limit":
	case Fitted(f.Kind):
		text = "about " + text
	default:
		text = beside(v, f.Limit, f.Unit)
	}
	if short {
		text, _ = ascii(text)
	}
	return text
}

// passed reports whether what was on its way somewhere is there.
func (f *Facts) passed() bool {
	to := cmp.Or(f.Limit, f.Toward)
	return Fitted(f.Kind) && f.HasValue && to > 0 && f.Value >= to
}

// unlimited reports whether CO rises where the site has no limit that it could be
// on its way to.
func (f *Facts) unlimited() bool { return Fitted(f.Kind) && f.Limit == 0 }

// toward is what CO rises to where that is no limit.
func (f *Facts) toward(short bool) string {
	if f.Toward == 0 {
		return ""
	}
	to := Facts{HasValue: true, Value: f.Toward, Unit: f.Unit}
	return to.figure("value", short)
}

// unended reports whether the air or the warmth of a space was never measured to
// be well again: what would tell, or the limit, is there no more. That air is
// well after the reset a person said.
func (f *Facts) unended() bool {
	if !f.over() || !f.HasValue || f.Kind.ConcernsPeople() && f.State != alarm.Latched {
		return false
	}
	switch f.Kind {
	case alarm.SpaceCold:
		return f.Value < f.Limit
	case alarm.SpaceHot:
		return f.Value > f.Limit
	case alarm.COCeiling, alarm.COShortTerm, alarm.COShift, alarm.CODose:
		return f.Value >= f.Limit
	}
	return false
}

// recovering reports whether the air or the warmth of a space is past its
// limit no more, though not yet for long enough to call it ended.
func (f *Facts) recovering() bool {
	switch f.Kind {
	case alarm.SpaceCold:
		return f.Value > f.Limit
	case alarm.SpaceHot:
		return f.Value < f.Limit
	case alarm.COCeiling, alarm.COShortTerm, alarm.COShift, alarm.CODose:
		return f.Value < f.Limit && f.Worst >= f.Limit
	}
	return false
}

// recovery writes how bad it was and what was read last, which need not be how
// it is now: the unit may have fallen silent since.
func (f *Facts) recovery(short bool) string {
	worst := *f
	worst.Value, worst.Kind = f.Worst, ""
	return worst.figure("value", short) + " before, last " + f.last(short)
}

// last writes what was read last, whichever side of its limit.
func (f *Facts) last(short bool) string {
	last := *f
	last.Kind = ""
	return last.figure("value", short)
}

// Fitted reports whether the value of a kind is the level of a line through
// readings, and none of them.
func Fitted(k alarm.Kind) bool { return k == alarm.CORising }

// worst is how bad the air was, and since when that is counted where it is from
// before the alarm came back; other kinds do without it.
func (f *Facts) worst(short bool) string {
	if f.Worst == 0 || !f.Kind.ConcernsPeople() {
		return ""
	}
	at := Facts{HasValue: f.HasValue, Value: f.Worst, Limit: f.Limit, Unit: f.Unit}
	if Fitted(f.Kind) { // it may have gone on as far as it ended
		at.Kind, at.Value = f.Kind, max(f.Worst, f.Value)
	}
	text := at.figure("value", short)
	if f.First != 0 && text != "" && !short {
		text += " since " + clock(f.First, f.Zone, shortClock)
	}
	return text
}
