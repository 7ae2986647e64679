package fold

import "heaterd/alerts/alarm"

// airAt finds an alarm about CO that stands where a condition calls somebody
// to: nobody should read of a stopped heater alone, and walk in. One that is
// below its limit again and waits for the reset stands too.
func (e *Engine) airAt(c *alarm.Condition) alarm.Kind {
	switch {
	case c.Space != "":
		return e.standsIn(c.Site, c.Space)
	case c.Kind == alarm.SiteSilent:
		return e.standsAnywhere(c.Site)
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

// standsAnywhere finds one in any space of a site.
func (e *Engine) standsAnywhere(id string) alarm.Kind {
	for _, s := range e.sites {
		for _, sp := range s.spaces {
			if k := e.standsIn(id, sp.ID); s.ID == id && k != "" {
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
