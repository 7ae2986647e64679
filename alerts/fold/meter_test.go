package fold_test

import (
	"math"
	"testing"
	"time"

	"heaterd/ingest/record"
)

// The hours at the start were left out, and the meter is read for the first time
// after some work: it stood higher all along, and nothing of that is use since.
func TestAMeterFarAboveTheHoursAtTheStart(t *testing.T) {
	p := newPlay(t, 1)
	p.burn(time.Hour, "n-0")
	p.write(record.Entry{Task: task}, 0)
	p.burn(2*time.Hour, "n-0")
	read := 5010.0
	p.write(record.Entry{Task: "meter", MeterH: &read}, 0)
	p.burn(time.Hour, "n-0")
	p.restart()
	if h := p.hours(0); math.Abs(h-5011) > 0.06 {
		t.Errorf("%.2f h, want 5011", h)
	}
	if since, _, _ := p.standing(task); math.Abs(since-3) > 0.06 {
		t.Errorf("%.2f h since the work, want 3", since)
	}
	if left := p.hoursLeft("service-500h"); math.Abs(left-489) > 0.1 {
		t.Errorf("%.2f h left to the 500-hour service, want 489: as if it was done at 5000 h", left)
	}
}

// Another hour meter, which begins at 0, leaves what the heater has run since
// its service as it was.
func TestAnotherMeterThatBeginsAtZero(t *testing.T) {
	p := newPlay(t, 1)
	p.burn(time.Hour, "n-0")
	read := 101.0
	p.write(record.Entry{Task: "meter", MeterH: &read}, 0)
	p.burn(2*time.Hour, "n-0")
	before := p.hoursLeft("service-500h")
	read = 0
	p.write(record.Entry{Task: "meter", MeterH: &read}, 0)
	p.burn(time.Hour, "n-0")
	p.restart()
	if left := p.hoursLeft("service-500h"); math.Abs(left-(before-1)) > 0.1 {
		t.Errorf("%.2f h left to the 500-hour service, want an hour less than %.2f", left, before)
	}
}
