package dashboards

import (
	"bytes"
	"fmt"
	"net/http"
	"net/url"
	"strings"

	ics "github.com/arran4/golang-ical"

	"heaterd/alerts/fold"
	"heaterd/alerts/service"
	"heaterd/alerts/wording"
)

// calendarDays is how far ahead the calendar looks; dates beyond are too
// unsure to plan by. Common practice, no source.
const calendarDays = 90

// calendar is the service work as an iCalendar (RFC 5545), a day-long event
// for each task of each heater, on the day it is expected to fall due and on
// today where that has passed. The UID names heater and task, so that a
// forecast that moves moves its event.
func (p *pages) calendar(w http.ResponseWriter, r *http.Request) error {
	s, of := p.take(), choiceOf(r)
	if of.site != "" && s.sites[of.site] == nil {
		return notFound("site", of.site)
	}
	cal := ics.NewCalendarFor("heaterd")
	cal.SetMethod(ics.MethodPublish)
	cal.SetXWRCalName("Heater service")
	cal.SetXPublishedTTL("PT1H")
	for i := range s.Heaters {
		if h := &s.Heaters[i]; of.has(h) {
			p.addEvents(cal, s, h, p.base(r))
		}
	}
	var b bytes.Buffer
	if err := cal.SerializeTo(&b, ics.WithNewLineWindows); err != nil {
		return err
	}
	w.Header().Set("Content-Disposition", `inline; filename="service.ics"`)
	writeWhole(w, "text/calendar; charset=utf-8", b.Bytes())
	return nil
}

func (p *pages) addEvents(cal *ics.Calendar, s *Stock, h *fold.HeaterView, base string) {
	site := s.site(h.Site)
	today := service.DateOf(s.At, site.Zone)
	for _, st := range h.Standings {
		if st.DueOn == nil || *st.DueOn > today+calendarDays {
			continue
		}
		day := max(*st.DueOn, today)
		e := cal.AddEvent(eventID(h.ID, st.Task))
		e.SetDtStampTime(s.At.Time())
		e.SetAllDayStartAt(dayTime(day))
		e.SetAllDayEndAt(dayTime(day + 1)) // exclusive
		e.SetSummary(plainLine(fmt.Sprintf("%s, heater %s%s", p.taskTitle(st.Task), h.ID, lateWord(st.State))))
		e.SetLocation(joined(calendarName(s.spaceName(h.Site, h.Space)), calendarName(site.Name)))
		e.SetDescription(p.eventText(st, today))
		e.SetURL(base + "/heaters/" + url.PathEscape(h.ID))
		e.SetTimeTransparency(ics.TransparencyTransparent)
	}
}

// eventID is a globally unique name that stays (RFC 5545 section 3.8.4.7).
func eventID(heater, task string) string {
	return strings.ReplaceAll(url.PathEscape(heater), "@", "%40") + "." + task + "@heaterd"
}

func lateWord(st service.State) string {
	if st == service.Overdue {
		return " (overdue)"
	}
	return ""
}

func (p *pages) eventText(st service.Standing, today service.Date) string {
	lines := []string{sentence(plainLine(st.Why()))}
	if likely := p.viewTask(st, today).Likely(); likely != "" {
		lines = append(lines, "Expected "+likely+".")
	}
	return strings.Join(append(lines, p.needs[st.Task]...), "\n")
}

// taskNeeds gives what a calendar says of each task of a plan, by its id: with
// every heater it is the same.
func taskNeeds(plan service.Plan) map[string][]string {
	out := map[string][]string{}
	for _, t := range plan.Tasks {
		lines := appendList(nil, "Cautions", t.Cautions)
		lines = appendList(lines, "Parts", t.Parts)
		out[t.ID] = appendList(lines, "Tools", t.Tools)
	}
	return out
}

func appendList(lines []string, head string, all []string) []string {
	if len(all) == 0 {
		return lines
	}
	between := "; "
	if strings.HasSuffix(all[0], ".") { // they are sentences
		between = " "
	}
	return append(lines, head+": "+plainLine(strings.Join(all, between)))
}

func calendarName(s string) string { return wording.Isolated(plainLine(s)) }

// plainLine keeps line breaks and control characters out of a property.
func plainLine(s string) string { return line(s, 2000) }
