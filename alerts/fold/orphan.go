package fold

import "heaterd/alerts/alarm"

// endOrphans ends the alarms of what is not there any more: a heater, space or
// site that left the configuration, a unit that was taken off its heater, a
// limit or a task that is none any more. Nothing will ever be found of those
// again, so absence would keep their alarms ringing for ever. One that latches
// still waits for its reset.
func (e *Engine) endOrphans() {
	e.swept = true
	for _, a := range e.book.All() {
		stands := a.Active || a.OnFrom != 0 || a.State == alarm.OutOfService
		if stands && e.orphaned(a.Key) {
			e.observe(alarm.Condition{Key: a.Key, Removed: true})
		}
	}
}

func (e *Engine) orphaned(k alarm.Key) bool {
	if k.Heater != "" {
		h := e.byID[k.Heater]
		return h == nil || !h.is(k) || !e.plans(k)
	}
	return k.Site != "" && !e.judges(k)
}

// is reports whether the heater is still where a key has it, with its unit.
func (h *heater) is(k alarm.Key) bool {
	return (k.Node == "" || string(h.node) == k.Node) && (k.Site == "" || k.Site == h.Site) && (k.Space == "" || k.Space == h.Space)
}

// plans reports whether the task that a key is about, if any, is in the plan.
func (e *Engine) plans(k alarm.Key) bool {
	switch k.Kind {
	case alarm.ServiceDueSoon, alarm.ServiceDue, alarm.ServiceOverdue, alarm.COSensorCheckDue:
		return e.rules.Plan.Index(k.Detail) >= 0
	}
	return true
}

// judges reports whether the site or space of a key is there, and whether
// anything there can still tell that the condition is over.
func (e *Engine) judges(k alarm.Key) bool {
	for _, s := range e.sites {
		if s.ID != k.Site {
			continue
		}
		for _, sp := range s.spaces {
			if sp.ID == k.Space {
				return len(sp.heaters) > 0 && sp.limited(k.Kind)
			}
		}
		return k.Space == ""
	}
	return false
}

// limited reports whether a space has the limit that a kind compares with.
func (s *space) limited(k alarm.Kind) bool {
	l := &s.site.Limits
	switch k {
	case alarm.COCeiling:
		return l.CeilingPPM > 0
	case alarm.COShortTerm:
		return l.ShortTermPPM > 0
	case alarm.COShift:
		return l.ShiftPPM > 0
	case alarm.CODose:
		return l.DosePercent > 0
	case alarm.SpaceCold, alarm.SpaceCooling:
		return s.ProtectAboveC != nil
	case alarm.SpaceHot:
		return s.ProtectBelowC != nil
	}
	return true
}
