// Package rota says who is on call at an instant.
//
//	turns of a week, or an iCalendar file ─┐
//	overrides, holidays ───────────────────┼─▶ Rota ─▶ OnCall, Next, Shifts, Gaps
//
// Turns change hands at a time of day by the clocks of the rota's zone, so a
// turn in whose week clocks change is an hour longer or shorter, and the
// hand-over stays where it is. An override comes before everything; a holiday
// passes a turn on to the next in order who is there.
//
// # Calendars
//
// Events name a person by summary (id or name) or attendee (address); others
// are listed as strangers and count for nothing. RRULE, RDATE, EXDATE,
// RECURRENCE-ID, DURATION, whole days and STATUS:CANCELLED are understood. What
// is not understood refuses the whole calendar: half a rota would pass for a
// whole one. Where two events overlap, the one that began last counts, so a
// swap laid over a week wins.
//
// Changes of clocks, where RFC 5545 leaves a choice or others choose
// differently:
//   - A time shown twice is the first of the two; one that is never shown is
//     read with the offset before the change (section 3.3.5).
//   - A repeated event ends at the time of day its first one does. RFC 5545
//     section 3.8.5.3 would keep the exact length where DTEND is given, which
//     would leave an hour with nobody, or two people, in the week of the change.
//   - DURATION counts days and weeks by the calendar and hours by elapsed time.
//   - Times without a zone and whole days are in the rota's zone.
//
// The package is pure; fetching the file is the caller's. A Rota does not
// change and may be used from any goroutine.
package rota
