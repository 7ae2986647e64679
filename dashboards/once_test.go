package dashboards_test

import (
	"net/url"
	"sync"
	"testing"
	"time"

	"heaterd/dashboards"
)

// TestAButtonPressedTwiceWritesOnce presses again before the answer came.
func TestAButtonPressedTwiceWritesOnce(t *testing.T) {
	now := at
	w := newWorld(t, func(o *dashboards.Options) { o.Now = func() time.Time { return now } })
	refuel := func(litres string) {
		t.Helper()
		if rec := w.do("POST", "/heaters/H-07/refuel", url.Values{"by": {"Kim"}, "amount": {litres}}); rec.Code != 303 {
			t.Errorf("status %d", rec.Code)
		}
	}
	lines := func(want int, when string) {
		t.Helper()
		if got := w.count(); got != want {
			t.Errorf("%s: %d lines, want %d", when, got, want)
		}
	}
	var both sync.WaitGroup
	for range 2 {
		both.Go(func() { refuel("20") })
	}
	both.Wait()
	lines(1, "at once")
	refuel("25")
	lines(2, "another amount")
	refuel("20")
	lines(3, "the first amount after another")
	if rec := w.do("POST", "/heaters/H-08/refuel", url.Values{"by": {"Kim"}, "amount": {"20"}}); rec.Code != 303 {
		t.Errorf("status %d", rec.Code)
	}
	lines(4, "another heater")
	now = now.Add(time.Minute)
	refuel("20")
	lines(5, "a minute later")

	if rec := w.do("POST", "/log/4/withdraw", url.Values{"by": {"Kim"}, "why": {"wrong heater"}}); rec.Code != 303 {
		t.Errorf("status %d", rec.Code)
	}
	refuel("20")
	if e := w.last(t).Entry; e == nil || e.Task != "refuel" {
		t.Errorf("after the withdrawal: %+v", w.last(t))
	}
}
