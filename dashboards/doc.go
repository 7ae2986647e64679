// Package dashboards is what people look at: pages, reports, the service
// calendar and the same as JSON.
//
//	fold.View ─┐
//	ledger ────┼─▶ page data ─▶ html/template ─▶ browser
//	store ─────┘            └─▶ JSON, CSV, iCalendar
//	forms ─▶ record.Line ─▶ the log      (never a change of state here)
//
// Nothing here changes what is known: a form becomes a line of the log, and
// the page waits until the alarm loop has read that line before it shows the
// result. Nothing here commands a heater.
//
// Every page is complete without a script. With one, a stream of server-sent
// events says that something changed, and the script fetches the page again
// and puts the changed parts in place.
//
// One table (routes.go) names every route with the least role that may use
// it; the multiplexer and the test of the roles both read it.
//
// Times are shown in the zone of the site they belong to, with its name; those
// of no one site in the zone that all sites share, in UTC where they share none.
// JSON and CSV are in UTC. Readings of CO are area readings, and wherever an
// average stands, its coverage and what it does not prove stand beside it.
//
// The handler may be used from any goroutine.
package dashboards
