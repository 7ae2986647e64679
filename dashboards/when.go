package dashboards

import (
	"fmt"
	"net/http"
	"time"

	"heaterd/alerts/ledger"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// apart is how far what was done lies from when it was written down before
// both times are shown. Common practice, no source.
const apart = 5 * time.Minute

// wallForms are how browsers write a datetime-local field.
var wallForms = []string{"2006-01-02T15:04", "2006-01-02T15:04:05"}

// doneAt reads when something was done, by the clocks of a zone; 0 for an
// empty field: now.
func doneAt(s string, zone *time.Location, now reading.Instant) (reading.Instant, error) {
	at, err := clockTime(s, "When it was done", zone)
	if err != nil || at == 0 {
		return 0, err
	}
	return at, checkDone(at, now, zone)
}

// clockTime reads a date and a time by the clocks of a zone; 0 for an empty
// field.
func clockTime(s, what string, zone *time.Location) (reading.Instant, error) {
	if s == "" {
		return 0, nil
	}
	for _, form := range wallForms {
		if shown, err := time.Parse(form, s); err == nil {
			return onClocks(shown, zone)
		}
	}
	return 0, problem(http.StatusUnprocessableEntity, "%s must be a date and a time such as 2026-01-31T18:30, not %q.", what, clipped(s, 30))
}

// onClocks finds when the clocks of a zone showed a time. Of two such moments,
// where clocks went back, it is the earlier: so the work falls due sooner.
func onClocks(shown time.Time, zone *time.Location) (reading.Instant, error) {
	if zone == nil {
		zone = time.UTC
	}
	var found time.Time
	for _, near := range []time.Duration{-24 * time.Hour, 24 * time.Hour} { // one side of a change each
		_, offset := shown.Add(near).In(zone).Zone()
		t := shown.Add(-time.Duration(offset) * time.Second)
		if same := showing(t, zone).Equal(shown); same && (found.IsZero() || t.Before(found)) {
			found = t
		}
	}
	if found.IsZero() {
		return 0, problem(http.StatusUnprocessableEntity, "The clocks in %s never showed %s: they were put forward. Say an hour earlier or later.", zone, shown.Format("15:04 on 2 Jan 2006"))
	}
	return reading.InstantOf(found), nil
}

// showing gives what clocks in a zone show, as if it were UTC.
func showing(t time.Time, zone *time.Location) time.Time {
	_, offset := t.In(zone).Zone()
	return t.UTC().Add(time.Duration(offset) * time.Second)
}

// checkDone refuses what cannot have been, and what is too long ago.
func checkDone(at, now reading.Instant, zone *time.Location) error {
	switch {
	case at > now:
		return problem(http.StatusUnprocessableEntity, "It cannot have been done later than now: there it is only %s.", clock(now, zone))
	case now.Sub(at) > record.WrittenWithin:
		return problem(http.StatusUnprocessableEntity, "It can be written down up to %s after it was done. For older work leave the time empty, and say in the note when it was.", longestBack())
	}
	return nil
}

// longestBack is how far back an entry may reach, as people say it.
func longestBack() string { return fmt.Sprintf("%d days", int(record.WrittenWithin.Hours()/24)) }

// writtenLate reports whether an entry was written down well after what it
// tells of was done.
func writtenLate(e ledger.EntryRow) bool { return e.At.Sub(e.When()) > apart }

// Back is how far back an entry may reach.
func (heaterPage) Back() string { return longestBack() }

// Ahead is how far ahead a planned stop may begin.
func (heaterPage) Ahead() string { return fmt.Sprintf("%d days", int(record.StopAhead.Hours()/24)) }

// WrittenLate reports whether both times are to be shown.
func (v entryView) WrittenLate() bool { return writtenLate(v.EntryRow) }
