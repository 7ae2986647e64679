package rota_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"heaterd/alerts/notify/rota"
)

type task struct {
	Body string `json:"body"`
	Zone string `json:"zone"`
	From int64  `json:"from"`
	To   int64  `json:"to"`
}

// Rules drawn at random give the same shifts as another implementation does
// (Python's icalendar and dateutil, with zoneinfo for the clocks). Events are
// shorter than the time between two, so that shifts are the occurrences.
func TestAgreesWithAnotherReader(t *testing.T) {
	python := interpreter(t)
	from, to := utc(t, "2026-01-01T00:00:00Z"), utc(t, "2026-12-31T00:00:00Z")
	var tasks []task
	for seed := range 400 {
		tasks = append(tasks, rapid.Custom(anyTask).Example(seed))
	}
	var in bytes.Buffer
	for i := range tasks {
		tasks[i].From, tasks[i].To = from.Unix(), to.Unix()
		_ = json.NewEncoder(&in).Encode(tasks[i])
	}
	cmd := exec.Command(python, filepath.Join("testdata", "expand.py"))
	cmd.Stdin, cmd.Stderr = &in, os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	compared := 0
	for i, one := range tasks {
		if agrees(t, one, lines[i], from, to) {
			compared++
		}
	}
	t.Logf("%d of %d calendars compared", compared, len(tasks))
	if compared < len(tasks)/4 {
		t.Error("too few to say anything")
	}
}

// agrees gives false for a rule that is refused here, because its first day
// is none of its own.
func agrees(t *testing.T, one task, line string, from, to time.Time) bool {
	t.Helper()
	c, err := rota.Reader{Zone: zone(t, one.Zone), People: crew, Lookup: time.LoadLocation}.Read([]byte(one.Body))
	if err != nil {
		if !strings.Contains(err.Error(), "DTSTART is no day") {
			t.Errorf("%v:\n%s", err, one.Body)
		}
		return false
	}
	r, _ := rota.New(rota.Terms{Zone: zone(t, one.Zone), Calendar: c})
	var want [][2]float64
	_ = json.Unmarshal([]byte(line), &want)
	var got [][2]float64
	for _, s := range r.Shifts(from, to) {
		got = append(got, [2]float64{float64(s.From.Unix()), float64(s.To.Unix())})
	}
	// A shift of the hour that is never shown is over when it begins.
	want = slices.DeleteFunc(want, func(s [2]float64) bool { return s[1] <= s[0] })
	for i := range want { // shifts are cut at the ends of what was asked for
		want[i][0], want[i][1] = max(want[i][0], float64(from.Unix())), min(want[i][1], float64(to.Unix()))
	}
	if !slices.Equal(got, want) {
		t.Errorf("here %d, there %d shifts of\n%s\nhere  %v\nthere %v", len(got), len(want), one.Body, got, want)
	}
	return true
}

func anyTask(r *rapid.T) task {
	home := rapid.SampledFrom([]string{"Europe/Berlin", "America/New_York", "Australia/Lord_Howe"}).Draw(r, "zone")
	day := time.Date(2025, 10, 1, rapid.IntRange(0, 23).Draw(r, "hour"), rapid.SampledFrom([]int{0, 15, 30}).Draw(r, "minute"), 0, 0, time.UTC).
		AddDate(0, 0, rapid.IntRange(0, 400).Draw(r, "day"))
	weekday := strings.ToUpper(day.Weekday().String()[:2])
	rule := rapid.SampledFrom([]string{
		"FREQ=DAILY", "FREQ=DAILY;INTERVAL=3", "FREQ=DAILY;BYDAY=MO,TU,WE,TH,FR", "FREQ=DAILY;BYMONTH=3,10,11;COUNT=40",
		"FREQ=WEEKLY", "FREQ=WEEKLY;INTERVAL=2;WKST=SU", "FREQ=WEEKLY;BYDAY=" + weekday + ",SA,SU", "FREQ=WEEKLY;COUNT=7",
		"FREQ=MONTHLY", "FREQ=MONTHLY;BYMONTHDAY=" + fmt.Sprint(day.Day()) + ",1,-1", "FREQ=MONTHLY;BYDAY=" + fmt.Sprint((day.Day()-1)/7+1) + weekday,
		"FREQ=YEARLY", "FREQ=YEARLY;BYMONTH=" + fmt.Sprint(int(day.Month())) + ";BYDAY=" + weekday,
	}).Draw(r, "rule")
	lines := []string{
		"UID:1", "SUMMARY:mo", "DTSTART;TZID=" + home + ":" + day.Format("20060102T150405"), "RRULE:" + rule,
		"DTEND;TZID=" + home + ":" + day.Add(time.Duration(rapid.IntRange(1, 22).Draw(r, "hours"))*time.Hour).Format("20060102T150405"),
	}
	for range rapid.IntRange(0, 3).Draw(r, "exceptions") {
		gone := day.AddDate(0, 0, rapid.IntRange(1, 60).Draw(r, "gone"))
		lines = append(lines, "EXDATE;TZID="+home+":"+gone.Format("20060102T150405"))
	}
	return task{Body: string(vcal(strings.Join(lines, "\n"))), Zone: home}
}

func interpreter(t *testing.T) string {
	t.Helper()
	for _, python := range []string{"/usr/bin/python3", "python3"} {
		if exec.Command(python, "-c", "import icalendar, dateutil").Run() == nil {
			return python
		}
	}
	if os.Getenv("CI") == "true" {
		t.Fatal("python3-icalendar is not installed")
	}
	t.Skip("python3-icalendar is not installed")
	return ""
}
