package dashboards_test

import (
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/notify/answerlink"
	"heaterd/dashboards"
)

func TestSpanRoundsToTheNearest(t *testing.T) {
	const day = 24 * time.Hour
	for d, want := range map[time.Duration]string{
		-time.Second: "0 s", 0: "0 s", 59*time.Second + 400*time.Millisecond: "59 s", 59*time.Second + 700*time.Millisecond: "1 min",
		29*time.Minute + 50*time.Second: "30 min", 59*time.Minute + 40*time.Second: "1 h", 119 * time.Minute: "1 h 59 min", 2 * time.Hour: "2 h",
		47*time.Hour + 59*time.Minute + 40*time.Second: "2 days", 71 * time.Hour: "2 days 23 h", 9*day + 23*time.Hour: "9 days 23 h",
		10*day - time.Minute: "10 days", 30*day + 13*time.Hour: "31 days",
	} {
		if got := dashboards.Span(d); got != want {
			t.Errorf("%s is %q, want %q", d, got, want)
		}
	}
}

// TestPagesOfOneSiteHaveOneZone checks that nothing on the page of a site, or
// of a heater, node or alarm of it, is told by other clocks than the site's.
func TestPagesOfOneSiteHaveOneZone(t *testing.T) {
	v := fixedView()
	v.Sites[0].Zone = zone("America/Chicago")
	w := newWorld(t, viewing(v))
	link := "/a/" + answerlink.Sign(w.opts.LinkSecret, "H-08.shutdown-unexplained.5", "kim", at.Add(time.Hour))
	for _, path := range []string{"/sites/quay", "/heaters/H-07", "/nodes/n-07", "/alarms/H-08.shutdown-unexplained.5", link} {
		page := w.page(t, path)
		has(t, page, "As of Wed 14 Jan 2026, 09:04 CST.")
		for _, other := range []string{" UTC", " GMT"} {
			if strings.Contains(page, other) {
				t.Errorf("%s also tells times in%s", path, other)
			}
		}
	}
}

// TestWhatIsOfNoSiteHasTheZoneOfAllSites: whoever looks after one site, or several
// in one zone, reads of a channel that is down by the clock on the wall.
func TestWhatIsOfNoSiteHasTheZoneOfAllSites(t *testing.T) {
	v := fixedView()
	v.Alarms = []alarm.Alarm{{ID: "channel-down.signs.1", Key: alarm.Key{Kind: alarm.ChannelDown, Detail: "signs"}, State: alarm.Unacknowledged, Priority: alarm.High, Active: true, Since: instant(-time.Hour)}}
	w := newWorld(t, viewing(v))
	has(t, w.page(t, "/alarms/channel-down.signs.1"), "As of Wed 14 Jan 2026, 15:04 UTC.", "Wed 14 Jan 2026, 14:04 UTC")
	v.Sites[0].Zone = zone("America/Chicago") // as the other has it
	w = newWorld(t, viewing(v))
	page := w.page(t, "/alarms/channel-down.signs.1")
	has(t, page, "As of Wed 14 Jan 2026, 09:04 CST.", "Wed 14 Jan 2026, 08:04 CST")
	if strings.Contains(page, "UTC") {
		t.Error("it is told by two clocks")
	}
	has(t, w.page(t, "/"), "As of Wed 14 Jan 2026, 09:04 CST.")
}
