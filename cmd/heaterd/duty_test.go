package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"heaterd/config"
)

// withCalendar is a configuration whose two people are on call in turn, for so
// many hours each from 5 January 2026 08:00; "" leaves a gap.
func withCalendar(t *testing.T, hours int, people ...string) *config.Config {
	t.Helper()
	dir := t.TempDir()
	var b strings.Builder
	b.WriteString("BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//test//EN\r\n")
	at := time.Date(2026, 1, 5, 8, 0, 0, 0, time.UTC)
	for n, person := range people {
		end := at.Add(time.Duration(hours) * time.Hour)
		if person != "" {
			fmt.Fprintf(&b, "BEGIN:VEVENT\r\nUID:%d@test\r\nDTSTAMP:20260101T000000Z\r\nDTSTART:%s\r\nDTEND:%s\r\nSUMMARY:%s\r\nEND:VEVENT\r\n",
				n, at.Format("20060102T150405Z"), end.Format("20060102T150405Z"), person)
		}
		at = end
	}
	b.WriteString("END:VCALENDAR\r\n")
	write := func(name, text string) string {
		file := filepath.Join(dir, name)
		if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return file
	}
	write("rota.ics", b.String())
	cfg, err := config.Load(write("heaterd.yaml", `version: 1
sites: [{ id: quay, time_zone: UTC, limits: us-niosh, procedure: Everyone out., spaces: [{ id: hall }] }]
heaters: [{ id: H-07, node: n-07, site: quay, space: hall }]
notify: { channels: [{ id: hook, webhook: { url: "https://hooks.example.org/" } }] }
on_call: { time_zone: UTC, people: [{ id: mara, channels: [hook] }, { id: tom, channels: [hook] }], calendar: rota.ics, fallback: mara }
`), func(string) (string, bool) { return "", false })
	if err != nil {
		t.Fatal(err)
	}
	return cfg
}

// TestCalendarThatEnds: a rota written four weeks ahead is no mistake, a hole in
// it is, and so is one that names nobody any more.
func TestCalendarThatEnds(t *testing.T) {
	week := 7 * 24
	now := time.Date(2026, 1, 6, 0, 0, 0, 0, time.UTC)
	warned, err := checkDuty(t.Context(), withCalendar(t, week, "mara", "tom", "mara", "tom"), now)
	if err != nil || len(warned) != 1 || !strings.Contains(warned[0].Message, "names nobody from Mon 2 Feb 2026 08:00 UTC on: alarms go to mara then") {
		t.Errorf("four weeks: %v, %v", warned, err)
	}
	_, err = checkDuty(t.Context(), withCalendar(t, week, "mara", "", "tom"), now)
	if err == nil || !strings.Contains(err.Error(), "from Mon 12 Jan 2026 08:00 UTC to Mon 19 Jan 2026 08:00 UTC") || strings.Contains(err.Error(), "26 Jan") {
		t.Errorf("a hole: %v", err)
	}
	_, err = checkDuty(t.Context(), withCalendar(t, week, "mara"), now.AddDate(0, 0, 14))
	if err == nil {
		t.Error("a calendar that names nobody any more is accepted")
	}
}
