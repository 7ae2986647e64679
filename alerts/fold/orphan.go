package fold

import "heaterd/alerts/alarm"

// endOrphans ends the alarms of what is not there any more: a heater, space or
// site that left the configuration, a unit that was taken off its heater.
// Nothing will ever be heard of those again, so absence would keep their alarms
// ringing for ever. One that latches still waits for its reset.
func (e *Engine) endOrphans() {
	e.swept = true
	for _, a := range e.book.Live() {
		if a.Active && e.orphaned(a.Key) {
			e.observe(alarm.Condition{Key: a.Key, Removed: true})
		}
	}
}

func (e *Engine) orphaned(k alarm.Key) bool {
	if k.Heater != "" {
		h := e.byID[k.Heater]
		if h == nil || k.Node != "" && string(h.node) != k.Node {
			return true
		}
		return k.Site != "" && k.Site != h.Site || k.Space != "" && k.Space != h.Space
	}
	return k.Site != "" && !e.has(k.Site, k.Space)
}

// has reports whether there is such a site, and such a space in it where one
// is named.
func (e *Engine) has(site, space string) bool {
	for _, s := range e.sites {
		if s.ID != site {
			continue
		}
		for _, sp := range s.spaces {
			if sp.ID == space {
				return true
			}
		}
		return space == ""
	}
	return false
}
