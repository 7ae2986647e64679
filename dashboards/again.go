package dashboards

import (
	"net/url"
	"slices"
	"strings"
)

// again is a form that was refused, to be put right and sent again.
type again struct {
	What   string      // last part of the address it was sent to
	Head   string      // what it is about
	Page   string      // address of the page that has it
	Heater *heaterPage // nil: it is about an alarm
	Alarm  *alarmView
}

// writeHeads name the forms of a heater's page.
var writeHeads = map[string]string{
	"look-over": "Look-over before use", "service": "Service done", "refuel": "Refuelled", "planned-stop": "Planned stop",
	"fit-node": "Sensor unit fitted", "in-service": "Back in service", "out-of-service": "Out of service",
}

// sentAgain gives the form that is sent to an address, so that it can be put
// right and sent again; nil for one that holds nothing to put right.
func (p *pages) sentAgain(to string) *again {
	s := p.take()
	parts := strings.Split(strings.TrimPrefix(to, "/"), "/")
	if len(parts) != 3 {
		return nil
	}
	id, err := url.PathUnescape(parts[1])
	switch a, what := s.alarms[id], parts[2]; {
	case err != nil:
	case parts[0] == "heaters" && s.heaters[id] != nil && writeHeads[what] != "":
		body := p.forms(s, s.heaters[id])
		return &again{What: what, Head: "Heater " + id + ": " + writeHeads[what], Page: "/heaters/" + parts[1], Heater: &body}
	case parts[0] == "alarms" && a != nil && (what == "shelve" || what == "reset"):
		v := p.viewAlarm(s, a)
		return &again{What: what, Head: v.Title(), Page: "/alarms/" + parts[1], Alarm: &v}
	}
	return nil
}

// Was gives what a field of the form on this page held when it was refused,
// or otherwise what it holds at first.
func (p Page) Was(field, otherwise string) string {
	if p.Typed == nil {
		return otherwise
	}
	return p.Typed.Get(field)
}

// Ticked reports whether a box of the form on this page was ticked when it
// was refused.
func (p Page) Ticked(field, value string) bool { return slices.Contains(p.Typed[field], value) }
