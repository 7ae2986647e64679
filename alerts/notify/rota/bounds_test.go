package rota_test

import (
	"runtime"
	"strings"
	"testing"
)

// The parser alone makes gigabytes of a megabyte of these.
func TestCostlyCalendarsAreRefused(t *testing.T) {
	event := "BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\n"
	for _, c := range []struct{ name, body, says string }{
		{"events in events", "BEGIN:VCALENDAR\r\n" + strings.Repeat("BEGIN:VEVENT\r\n", 3000), "more than 8 deep"},
		{"parts of no name", "BEGIN:VCALENDAR\r\n" + strings.Repeat("BEGIN:X-PART\r\n", 3000), "more than 8 deep"},
		{"folded", "BEGIN:VCALENDAR\r\n" + strings.Repeat("BEG\r\n IN:VEVENT\r\n", 3000), "more than 8 deep"},
		{"parts with parameters", "BEGIN:VCALENDAR\r\n" + strings.Repeat("BEGIN;X=1:VEVENT\r\n", 3000), "more than 8 deep"},
		{"parameters", event + "X-A" + strings.Repeat(";b=c", 3000) + ":d\r\n", "line 3 has more than 1000 parameters"},
		{"values of a parameter", event + "X-A;b=" + strings.Repeat("c,", 3000) + ":d\r\n", "line 3 has more than 1000 parameters"},
		{"colons in quotes", event + "X-A" + strings.Repeat(`;b=":"`, 3000) + ":d\r\n", "line 3 has more than 1000 parameters"},
		{"quotes that hide nothing", event + `X-A;b=c",":"` + strings.Repeat(";b=c", 3000) + ":d\r\n", "line 3 has more than 1000 parameters"},
		{"quotes taken back", event + `X-A;b="\":"` + strings.Repeat(";b=c", 3000) + ":d\r\n", "line 3 has more than 1000 parameters"},
	} {
		t.Run(c.name, func(t *testing.T) {
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			_, err := reader(t).Read([]byte(c.body))
			runtime.ReadMemStats(&after)
			if err == nil || !strings.Contains(err.Error(), c.says) {
				t.Errorf("it said %.300v", err)
			}
			if took := after.TotalAlloc - before.TotalAlloc; took > 5<<20 {
				t.Errorf("%d bytes of a calendar took %d bytes of memory", len(c.body), took)
			}
		})
	}
}

// What a value holds is none of it.
func TestLongValuesAreRead(t *testing.T) {
	calendar(t, "UID:1\nSUMMARY:mo\nDTSTART:20260112T080000Z\nDTEND:20260112T180000Z\nDESCRIPTION;X-A=\"a:b\":"+strings.Repeat("see; and, so on: ", 3000))
}
