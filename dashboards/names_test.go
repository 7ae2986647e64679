package dashboards_test

import (
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fold"
	"heaterd/alerts/notify/answerlink"
	"heaterd/dashboards"
	"heaterd/ingest/reading"
)

// TestLongNamesFitThePage gives everything the longest name that it may have,
// without a place to break it.
func TestLongNamesFitThePage(t *testing.T) {
	v := longNamed()
	w := newWorld(t, func(o *dashboards.Options) {
		o.View, o.Name = viewOf(v), func(string) string { return strings.Repeat("N", 100) }
	})
	link := "/a/" + answerlink.Sign(w.opts.LinkSecret, v.Alarms[0].ID, "kim", at.Add(time.Hour))
	server := httptest.NewServer(w.handler)
	defer server.Close()
	ctx := browser(t)
	for _, width := range []int64{320, 390, 1280} {
		for _, path := range []string{"/", "/alarms", "/alarms/" + v.Alarms[0].ID, "/heaters/" + v.Heaters[0].ID, "/sites/quay", "/service", "/reports", "/reports/season", link} {
			visit(t, ctx, server.URL, path, width)
		}
	}
}

func longNamed() fold.View {
	v := fixedView()
	h, site := &v.Heaters[0], &v.Sites[0]
	h.ID, h.Node = strings.Repeat("H", 64), reading.NodeID(strings.Repeat("n", 64))
	site.Name = strings.Repeat("S", 200)
	site.Spaces[0].Name = strings.Repeat("W", 200)
	site.Spaces[0].Heaters = append(site.Spaces[0].Heaters, h.ID)
	v.Alarms = append([]alarm.Alarm{{
		ID: h.ID + ".node-silent.1", Key: alarm.Key{Kind: alarm.NodeSilent, Site: "quay", Space: "hall", Heater: h.ID, Node: string(h.Node)}, N: 1,
		State: alarm.Unacknowledged, Priority: alarm.High, Active: true, Since: instant(0),
	}}, v.Alarms...)
	return v
}
