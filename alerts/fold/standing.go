package fold

import "heaterd/alerts/alarm"

// airAt finds an alarm about CO that stands where a condition calls somebody
// to: nobody should read of a stopped heater alone, and walk in. One that is
// below its limit again and waits for the reset stands too.
func (e *Engine) airAt(c *alarm.Condition) alarm.Kind {
	if c.Space != "" {
		return e.standsIn(c.Site, c.Space)
	}
	for _, id := range append([]string{c.Heater}, c.Findings.Heaters...) {
		if h := e.byID[id]; h != nil {
			if k := e.standsIn(h.Site, h.Space); k != "" {
				return k
			}
		}
	}
	return ""
}

func (e *Engine) standsIn(site, space string) alarm.Kind {
	for _, k := range alarm.Kinds() {
		if !k.ConcernsPeople() {
			continue
		}
		a, ok := e.book.Get(alarm.Key{Kind: k, Site: site, Space: space})
		if ok && (a.Active || a.State == alarm.Latched) {
			return k
		}
	}
	return ""
}
