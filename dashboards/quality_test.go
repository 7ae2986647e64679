package dashboards_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/ledger"
	"heaterd/dashboards"
)

// alarmsOver is so many alarms of one heater, at even distances up to now.
func alarmsOver(n int, span time.Duration) ledger.Batch {
	b := ledger.Batch{Cursor: 2}
	for i := range n {
		a := fixedAlarms()[0]
		a.N = 100 + i
		a.ID = fmt.Sprintf("H-08.shutdown-unexplained.%d", a.N)
		when := instant(-span + time.Duration(i)*span/time.Duration(n))
		b.Transitions = append(b.Transitions, alarm.Transition{At: when, Alarm: a, From: alarm.Normal, To: alarm.Unacknowledged, Event: alarm.Raise})
	}
	return b
}

// TestFewAlarmsAreNotJudged looks at what is said of a share and of a rate
// with few alarms, in a short time, and with enough of both.
func TestFewAlarmsAreNotJudged(t *testing.T) {
	for name, c := range map[string]struct {
		alarms       int
		days         int
		share, daily string
	}{
		"few alarms": {3, 20, "too few to judge", ""},
		"few days":   {60, 2, "too few to judge", "too few to judge"},
		"enough":     {60, 20, "above", ""},
	} {
		t.Run(name, func(t *testing.T) {
			v := fixedView()
			v.Begin = instant(-time.Duration(c.days) * 24 * time.Hour)
			w := newWorld(t, func(o *dashboards.Options) {
				o.View = viewOf(v)
				if err := o.Ledger.Commit(t.Context(), alarmsOver(c.alarms, time.Duration(c.days)*24*time.Hour-time.Hour)); err != nil {
					t.Fatal(err)
				}
			})
			page := w.page(t, "/alarms/quality")
			has(t, page, fmt.Sprintf("The last %d days", c.days), "Heater stopped, no known reason, heater H-08: ")
			for measure, want := range map[string]string{"share of priority high and above": c.share, "alarms a day and person": c.daily} {
				_, row, _ := strings.Cut(page, `<th scope="row" role="rowheader">`+measure+`</th><td role="cell" data-l="Here">`)
				row, _, _ = strings.Cut(row, "</td>")
				if text := tags.ReplaceAllString(row, ""); want == "" && strings.Contains(text, " ") && !strings.HasSuffix(text, " %") || !strings.HasSuffix(text, want) {
					t.Errorf("%s: %q, want %q", measure, text, want)
				}
			}
		})
	}
}

// TestCountsOfAlarmsAddUp looks at an alarm that came again before anybody
// answered it, and at one that heaterd saw off by itself.
func TestCountsOfAlarmsAddUp(t *testing.T) {
	b := alarmsOver(2, 2*time.Hour)
	again, off := b.Transitions[0], b.Transitions[1]
	again.At, again.From, again.Alarm.Seq = instant(-time.Hour), alarm.Returned, 2
	off.At, off.Event, off.To, off.Where, off.Alarm.Seq = instant(-time.Minute), alarm.Acknowledge, alarm.Normal, alarm.ByItself, 2
	b.Transitions = append(b.Transitions, again, off)
	w := newWorld(t, func(o *dashboards.Options) {
		if err := o.Ledger.Commit(t.Context(), b); err != nil {
			t.Fatal(err)
		}
	})
	has(t, w.page(t, "/alarms/quality"), "6 alarms that asked for somebody", "A person acknowledged 0; nobody acknowledged 4.",
		"1 came again, or grew, before", "its own. 1 needed nobody any more")
}

func TestTheAlarmReportSaysWhereItIsTooFew(t *testing.T) {
	has(t, newWorld(t).page(t, "/reports/alarms"), "Too few to judge: the usual figures want at least 6 days, and shares at least 20 alarms.")
}

// TestTheFirstHoursHaveNoRate: one alarm in the first half hour is not 48 a day.
func TestTheFirstHoursHaveNoRate(t *testing.T) {
	v := fixedView()
	v.Begin = instant(-30 * time.Minute)
	w := newWorld(t, func(o *dashboards.Options) {
		o.View = viewOf(v)
		if err := o.Ledger.Commit(t.Context(), alarmsOver(1, 20*time.Minute)); err != nil {
			t.Fatal(err)
		}
	})
	has(t, w.page(t, "/alarms/quality"), "The last 30 min: ", "that asked for somebody. A person")
	report := w.page(t, "/reports/alarms")
	has(t, report, "days of UTC", "The record begins at Wed 14 Jan 2026, 14:34 UTC.")
	if strings.Contains(report, "a day") {
		t.Error("the report gives a rate of half an hour")
	}
}
