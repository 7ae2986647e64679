package dashboards

import (
	"net/http"
	"net/url"
	"time"

	"heaterd/alerts/service"
	"heaterd/ingest/reading"
)

// period is a stretch of whole days in a zone, first and last included.
type period struct {
	First, Last service.Date
	From, To    reading.Instant // To is not included
	Zone        *time.Location
}

// periodOf reads from and to (YYYY-MM-DD) of a request; where one is left out
// it is the last so many days up to now. The time after now is cut off.
func periodOf(q url.Values, zone *time.Location, now reading.Instant, days, most int) (period, error) {
	p := period{Zone: zone, Last: service.DateOf(now, zone)}
	if now == 0 {
		return p, problem(http.StatusServiceUnavailable, "heaterd has only just started and still reads what was kept. Ask again in a moment.")
	}
	var err error
	if s := q.Get("to"); s != "" {
		if p.Last, err = service.ParseDate(s); err != nil {
			return p, problem(http.StatusUnprocessableEntity, "The last day must be written YYYY-MM-DD.")
		}
	}
	p.First = p.Last - service.Date(days-1)
	if s := q.Get("from"); s != "" {
		if p.First, err = service.ParseDate(s); err != nil {
			return p, problem(http.StatusUnprocessableEntity, "The first day must be written YYYY-MM-DD.")
		}
	}
	if p.First > p.Last {
		return p, problem(http.StatusUnprocessableEntity, "The first day must not be after the last.")
	}
	if int(p.Last-p.First) >= most {
		return p, problem(http.StatusUnprocessableEntity, "At most %d days at once.", most)
	}
	if y := dayTime(p.First).Year(); y < 1971 || y > 9998 {
		return p, problem(http.StatusUnprocessableEntity, "There are no readings of that year.")
	}
	p.From, p.To = p.First.Start(zone), (p.Last + 1).Start(zone)
	p.To = max(p.From, min(p.To, now+1))
	return p, nil
}
