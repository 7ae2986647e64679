package wording

import (
	"cmp"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fleet"
	"heaterd/ingest/reading"
)

// Facts are what a text is made from. Empty ones are left out of it.
type Facts struct {
	Kind     alarm.Kind
	State    alarm.State
	Priority alarm.Priority
	Site     string // name, as people say it
	SiteID   string
	Space    string // name
	SpaceID  string
	Rooms    map[string]string // names of the site's spaces, by id
	Heater   string            // id, as on its label
	Node     string
	Detail   string

	Since reading.Instant // 0: not known
	First reading.Instant // it came before, and Worst counts from then; 0: it did not
	Ended reading.Instant // 0: it holds
	Zone  *time.Location  // of the site; nil: UTC

	Value, Limit float64 // in Unit, where HasValue
	HasValue     bool
	Activity     string  // whose dose the site has estimated; empty: not known
	Toward       float64 // ppm that CO rises to, where that is no limit of the site's; else 0
	Worst        float64 // value while it held; 0: not noted
	Unit         string

	HeldBy string          // who shelved it or took it out of service
	Why    string          // why it is shelved, suppressed or out of service
	Until  reading.Instant // end of the shelving

	alarm.Findings

	Procedure string
	Contacts  []fleet.Contact
	Late      bool
	Again     string    // why it is told again
	Earlier   []Earlier // who was told of it before, the reader too
	Taken     string    // who has acknowledged or shelved it, to those who were told too; empty: nobody is named
	Link      string    // to the alarm's page
	Answers   bool      // the reader can acknowledge it, and it asks for that
}

// Earlier is somebody who was told of an alarm, and has not acknowledged it.
type Earlier struct {
	Reader  bool // whoever reads this was
	Name    string
	At      reading.Instant // 0: no message got through
	Answers bool            // it was for them to acknowledge
}

// Of gathers the facts of an alarm at its site; s may be nil where no site is
// concerned. The caller adds the link.
func Of(a alarm.Alarm, s *fleet.Site) Facts {
	f := Facts{
		Kind: a.Kind, State: a.State, Priority: a.Priority,
		Site: a.Site, SiteID: a.Site, Space: a.Space, SpaceID: a.Space,
		Heater: a.Heater, Node: a.Node, Detail: a.Detail,
		Since: a.Since, Ended: a.Cleared,
		Value: a.Value, Limit: a.Limit, HasValue: a.HasValue, Worst: a.Worst, Unit: a.Unit,
		HeldBy: a.HeldBy, Why: a.Why, Until: a.ShelvedUntil,
		Findings: a.Findings, Late: a.Late,
	}
	if a.Raised < a.Since { // raised again before it was over
		f.First = a.Raised
	}
	if s != nil {
		f.at(s)
	}
	return f
}

func (f *Facts) at(s *fleet.Site) {
	f.Zone, f.Procedure, f.Contacts = s.Zone, s.Procedure, s.Contacts
	f.Site = cmp.Or(s.Name, f.Site)
	f.Activity = string(s.Activity)
	if f.unlimited() {
		f.Toward = s.Limits.RisingPPM()
	}
	f.Rooms = map[string]string{}
	for _, sp := range s.Spaces {
		f.Rooms[sp.ID] = sp.Name
	}
	f.Space = f.room(f.SpaceID)
}

// behindAir reports whether what is to be done about the air comes first,
// though the alarm is about something else: it calls somebody to where an
// alarm about CO stands.
func (f *Facts) behindAir() bool {
	return f.Air != "" && !f.Kind.ConcernsPeople() && !f.Late && !f.over()
}

// over reports whether the condition is gone. What is held back stays so though
// it ended meanwhile.
func (f *Facts) over() bool {
	switch f.State {
	case alarm.Normal, alarm.Returned, alarm.Latched:
		return true
	case alarm.Shelved, alarm.OutOfService, "": // a page says beside it that it is held back
		return f.Ended != 0 && !f.Kind.ConcernsPeople()
	default:
		return false
	}
}

// heaters are those to look at: the alarm's own, then the others concerned.
func (f *Facts) heaters() []string {
	var all []string
	if f.Heater != "" {
		all = append(all, f.Heater)
	}
	for _, h := range f.Heaters {
		if h != f.Heater {
			all = append(all, h)
		}
	}
	return all
}

// stopped names the alarm's heater, or all of them where a whole site is
// concerned. Where people are, no heater is named before what to do.
func (f *Facts) stopped(plain func(string) string, most int) string {
	switch {
	case f.Kind.ConcernsPeople():
		return ""
	case f.Heater != "":
		return plain(f.Heater)
	default:
		return clip(plainList(f.Heaters, plain), most)
	}
}

func (f *Facts) plural() string {
	if f.Heater == "" && len(f.Heaters) > 1 {
		return "s"
	}
	return ""
}
