package alarm_test

import (
	"fmt"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// A heater stops for no known reason, somebody acknowledges, and it runs
// again.
func ExampleBook() {
	book := alarm.NewBook(alarm.Rules())
	now := reading.InstantOf(time.Date(2026, 1, 12, 6, 0, 0, 0, time.UTC))
	c := alarm.Condition{
		Key:    alarm.Key{Kind: alarm.ShutdownUnexplained, Site: "quay", Space: "hall", Heater: "H-07"},
		Active: true, Known: true,
		Priority: alarm.PriorityOf(alarm.ShutdownUnexplained, 90*time.Minute, alarm.Property),
	}
	print := func(ts []alarm.Transition, err error) {
		for _, t := range ts {
			fmt.Println(t.At, t.Alarm.ID, t.Alarm.Priority, t.From, "->", t.To)
		}
		if err != nil {
			fmt.Println(err)
		}
	}
	print(book.Observe(now, c), nil)
	print(book.Answer(now.Add(5*time.Minute), record.Answer{
		Act: record.Acknowledge, Alarm: "H-07.shutdown-unexplained.1", By: "Duty technician", Role: alarm.Technician,
	}))
	print(book.Answer(now.Add(6*time.Minute), record.Answer{
		Act: record.Reset, Alarm: "H-07.shutdown-unexplained.1", By: "Warden", Role: alarm.Safety, Why: "aired",
	}))
	c.Active = false
	print(book.Observe(now.Add(40*time.Minute), c), nil)
	// Output:
	// 2026-01-12T06:00:00Z H-07.shutdown-unexplained.1 high normal -> unacknowledged
	// 2026-01-12T06:05:00Z H-07.shutdown-unexplained.1 high unacknowledged -> acknowledged
	// H-07.shutdown-unexplained.1 is acknowledged: it is not reset: it ends by itself once what it tells of is over
	// 2026-01-12T06:40:00Z H-07.shutdown-unexplained.1 high acknowledged -> normal
}
