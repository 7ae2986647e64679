package wording

import "heaterd/alerts/alarm"

func (f *Facts) figure(which string, short bool) string {
	if !f.HasValue {
		return ""
	}
	v := f.Value
	if which == "limit" {
		v = f.Limit
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

// passed reports whether what was on its way to a limit is there.
func (f *Facts) passed() bool { return Fitted(f.Kind) && f.HasValue && f.Value >= f.Limit }

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
	worst, last := *f, *f
	worst.Value, worst.Kind, last.Kind = f.Worst, "", ""
	return worst.figure("value", short) + " before, last " + last.figure("value", short)
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
