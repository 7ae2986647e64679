package service_test

import (
	"fmt"
	"time"

	"heaterd/alerts/service"
	"heaterd/ingest/reading"
)

func Example() {
	plan := service.Default()
	start := reading.InstantOf(time.Date(2026, time.January, 12, 6, 0, 0, 0, time.UTC))

	var book service.Book
	book.Begin(start, 412.5) // the hour meter when the node was fitted

	var use service.Use
	for d := range 10 { // ten days of 8 h each
		use.Add(service.DateOf(start, time.UTC)+service.Date(d), 8)
	}
	facts := service.Facts{Now: start.Add(9*24*time.Hour + 14*time.Hour), Zone: time.UTC, Hours: service.Hours{Est: 492.5, Low: 492.5, High: 492.5}}

	for _, s := range service.Status(plan, facts, &book, &use) {
		if s.Task == "service-500h" {
			fmt.Printf("%s: %s, %.1f h left, %s to %s\n", s.Task, s.State, *s.HoursLeft, s.DueEarly, s.DueLate)
			fmt.Println(s.Why())
		}
	}

	book.Done(plan, facts.Now, facts.Hours, "service-500h")
	s := service.Status(plan, facts, &book, &use)[plan.Index("service-500h")]
	fmt.Printf("%s: %s, %.1f h left\n", s.Task, s.State, *s.HoursLeft)
	// Output:
	// service-500h: due-soon, 7.5 h left, 2026-01-22 to 2026-01-22
	// every 500 burner hours; never logged, counted from the last full interval of the hour meter
	// service-500h: ok, 500.0 h left
}

func ExampleMakeVisit() {
	plan := service.Default()
	today, _ := service.ParseDate("2026-01-12")
	due := today + 3
	v := service.MakeVisit(plan, today, []service.HeaterStandings{{
		Heater:    "H-07",
		Standings: []service.Standing{{Task: "intake-filter", State: service.DueSoon, DueOn: &due}},
	}})
	fmt.Println(v.Heaters[0].Heater, v.Heaters[0].Tasks[0].Task)
	fmt.Println(v.Parts, v.Tools)
	fmt.Println(v.Cautions[0])
	// Output:
	// H-07 intake-filter
	// [{Air intake filter (spare) 1}] [Bucket Mild detergent Clean cloth]
	// The site's procedure comes first; nobody works on a heater in a space whose air is in doubt.
}
