package dashboards_test

import (
	"bytes"
	"os"
	"os/exec"
	"strings"
	"testing"
	"unicode/utf8"
)

// calendarWorld has names that need folding and escaping.
func calendarWorld(t *testing.T) *world {
	v := fixedView()
	v.Sites[0].Name = "Çöğüş Łódź, " + strings.Repeat("Überlänge; ", 12) + "north\r\nBEGIN:VEVENT"
	return newWorld(t, viewing(v))
}

// TestCalendarKeepsRFC5545 checks line endings, folding (section 3.1), UID,
// DTSTAMP and the exclusive DTEND of day-long events (section 3.6.1).
func TestCalendarKeepsRFC5545(t *testing.T) {
	w := calendarWorld(t)
	rec := w.do("GET", "/service.ics", nil)
	if got := rec.Header().Get("Content-Type"); got != "text/calendar; charset=utf-8" {
		t.Errorf("Content-Type %q", got)
	}
	text := rec.Body.String()
	if strings.Contains(strings.ReplaceAll(text, "\r\n", ""), "\n") || strings.Contains(strings.ReplaceAll(text, "\r\n", ""), "\r") {
		t.Error("a line does not end in CRLF")
	}
	for l := range strings.SplitSeq(text, "\r\n") {
		if len(l) > 75 || !utf8.ValidString(l) {
			t.Errorf("line of %d octets, valid UTF-8 %t: %q", len(l), utf8.ValidString(l), l)
		}
	}
	flat := strings.ReplaceAll(text, "\r\n ", "")
	has(t, flat, "UID:H-07.service-500h@heaterd", "DTSTAMP:20260114T150400Z", "DTSTART;VALUE=DATE:20260117\r\nDTEND;VALUE=DATE:20260118",
		"SUMMARY:500-hour service\\, heater H-08 (overdue)", "URL:http://localhost:8080/heaters/H-07")
	if n := strings.Count(flat, "\r\nBEGIN:VEVENT"); n != 4 {
		t.Errorf("%d events, want 4", n)
	}
	if !strings.Contains(flat, "Cautions: ") || strings.Contains(flat, ".\\;") {
		t.Error("no cautions, or a semicolon behind a sentence of them")
	}
	if w.do("GET", "/service.ics", nil).Body.String() != text {
		t.Error("the same view gives another calendar")
	}
	one := w.do("GET", "/service.ics?site=mill", nil).Body.String()
	if strings.Contains(one, "VEVENT") {
		t.Error("the calendar of one site has another site's work")
	}
}

func TestCalendarTakesATokenInItsAddress(t *testing.T) {
	w := newWorld(t, withUsers(t))
	if got := w.do("GET", "/service.ics", nil).Code; got != 401 {
		t.Errorf("without a token: %d", got)
	}
	if got := w.do("GET", "/service.ics?token=secret-viewer", nil).Code; got != 200 {
		t.Errorf("with a token: %d", got)
	}
	if got := w.do("GET", "/log?token=secret-viewer", nil).Code; got != 303 {
		t.Errorf("a token in the address of a page: %d", got)
	}
}

// TestCalendarReadsBack has another reader of RFC 5545 read it.
func TestCalendarReadsBack(t *testing.T) {
	const read = `
import sys, icalendar
c = icalendar.Calendar.from_ical(sys.stdin.buffer.read())
for e in c.walk("VEVENT"):
    print(e["UID"], e["DTSTART"].dt, e["DTEND"].dt, e["SUMMARY"], "|", e["LOCATION"])
`
	python := "/usr/bin/python3" // the distribution's, for which the package is installed
	if err := exec.CommandContext(t.Context(), python, "-c", "import icalendar").Run(); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("python3-icalendar is not installed")
		}
		t.Skip("python3-icalendar is not installed")
	}
	w := calendarWorld(t)
	cmd := exec.CommandContext(t.Context(), python, "-c", read)
	cmd.Stdin = bytes.NewReader(w.do("GET", "/service.ics", nil).Body.Bytes())
	out, err := cmd.CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	has(t, string(out), "H-07.service-500h@heaterd 2026-01-17 2026-01-18 500-hour service, heater H-07 | Main hall, Çöğüş Łódź, Überlänge; ")
}
