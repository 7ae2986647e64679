package dashboards

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"

	ics "github.com/arran4/golang-ical"

	"heaterd/alerts/fold"
	"heaterd/alerts/service"
)

// calendarDays is how far ahead the calendar looks; dates beyond are too
// unsure to plan by. Common practice, no source.
const calendarDays = 90

// calendar is the service work as an iCalendar (RFC 5545), a day-long event
// for each task of each heater, on the day it is expected to fall due and on
// today where that has passed. The UID names heater and task, so that a
// forecast that moves moves its event.
func (p *pages) calendar(w http.ResponseWriter, r *http.Request) error {
	s := p.take()
	q := r.URL.Query()
	if site := q.Get("site"); site != "" && s.sites[site] == nil {
		return notFound("site", site)
	}
	cal := ics.NewCalendarFor("heaterd")
	cal.SetMethod(ics.MethodPublish)
	cal.SetXWRCalName("Heater service")
	cal.SetXPublishedTTL("PT1H")
	for i := range s.Heaters {
		h := &s.Heaters[i]
		if (q.Get("site") == "" || h.Site == q.Get("site")) && (q.Get("heater") == "" || h.ID == q.Get("heater")) {
			p.addEvents(cal, s, h, p.base(r))
		}
	}
	w.Header().Set("Content-Disposition", `inline; filename="service.ics"`)
	writeWhole(w, "text/calendar; charset=utf-8", []byte(cal.Serialize(ics.WithNewLineWindows)))
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
		e.SetLocation(plainLine(place(s, h)))
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

func place(s *Stock, h *fold.HeaterView) string {
	text := siteName(s.site(h.Site))
	if sp := s.spaceName(h.Site, h.Space); sp != "" {
		text = sp + ", " + text
	}
	return text
}

func (p *pages) eventText(st service.Standing, today service.Date) string {
	lines := []string{sentence(plainLine(st.Why()))}
	if likely := p.viewTask(st, today).Likely(); likely != "" {
		lines = append(lines, "Expected "+likely+".")
	}
	if i := p.o.Plan.Index(st.Task); i >= 0 {
		t := p.o.Plan.Tasks[i]
		lines = appendList(lines, "Cautions", t.Cautions)
		lines = appendList(lines, "Parts", t.Parts)
		lines = appendList(lines, "Tools", t.Tools)
	}
	return strings.Join(lines, "\n")
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

// plainLine keeps line breaks and control characters out of a property.
func plainLine(s string) string { return line(s, 2000) }
