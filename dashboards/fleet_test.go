package dashboards_test

import (
	"fmt"
	"testing"
	"time"

	"heaterd/alerts/fleet"
	"heaterd/alerts/fold"
	"heaterd/alerts/outcome"
	"heaterd/alerts/service"
	"heaterd/dashboards"
	"heaterd/ingest/reading"
)

// quietView is a fleet of so many heaters on ten sites, all well.
func quietView(heaters int) fold.View {
	v := fold.View{At: instant(0)}
	for s := range 10 {
		sp := fleet.Space{ID: "hall", Name: "Hall"}
		v.Sites = append(v.Sites, fold.SiteView{
			Site:   fleet.Site{ID: fmt.Sprintf("site-%d", s), Name: fmt.Sprintf("Jobsite number %d", s), Zone: zone("Europe/Dublin"), Spaces: []fleet.Space{sp}},
			Spaces: []fold.SpaceView{{Space: sp, Site: fmt.Sprintf("site-%d", s)}},
		})
	}
	for i := range heaters {
		id := fmt.Sprintf("H-%04d", i)
		v.Heaters = append(v.Heaters, fold.HeaterView{
			Heater: fleet.Heater{ID: id, Node: reading.NodeID("n" + id), Site: fmt.Sprintf("site-%d", i%10), Space: "hall", TankL: 52},
			Heard:  instant(-time.Duration(i%50) * time.Second), Lit: i%3 == 0, LitSince: instant(-time.Hour),
			Known: reading.Sample{Has: reading.CO | reading.Temp, CO: float32(i % 9), Temp: 11.5},
			Hours: outcome.Hours{Hours: float64(400 + i)}, HasLevel: true, Level: 0.5, Standings: standings(service.OK, 20),
		})
	}
	return v
}

func quietWorld(t testing.TB, heaters int) *world {
	v := quietView(heaters)
	return newWorld(t, viewing(v))
}

// mostBytes bounds the fleet's first page at a thousand heaters: what a phone
// on a poor link still takes. Common practice, no source.
const mostBytes = 200_000

func TestAThousandHeatersFitAPage(t *testing.T) {
	w := quietWorld(t, 1000)
	best := time.Hour
	size := 0
	for range 5 {
		begin := time.Now()
		size = len(w.page(t, "/"))
		best = min(best, time.Since(begin))
	}
	t.Logf("fleet page at 1,000 heaters: %d bytes, best of five %s", size, best)
	if size > mostBytes {
		t.Errorf("want at most %d bytes", mostBytes)
	}
	has(t, w.page(t, "/"), "1000 of 1000 heaters, page 1 of 10", "Next page")
	has(t, w.page(t, "/?page=10"), "H-0999")
	has(t, w.page(t, "/?q=h-0123"), "1 of 1000 heaters", "H-0123")
	has(t, w.page(t, "/?site=site-3&q=hall"), "100 of 1000 heaters")
	has(t, w.page(t, "/?q=nothing+fits"), "No heater fits")
}

func BenchmarkFleetPage(b *testing.B) {
	w := quietWorld(b, 1000)
	b.ReportAllocs()
	for b.Loop() {
		w.page(b, "/")
	}
}

func TestStockIsTakenOnceASecond(t *testing.T) {
	taken, now := 0, at
	w := newWorld(t, func(o *dashboards.Options) {
		o.View = func() fold.View { taken++; return quietView(1) }
		o.Now = func() time.Time { return now }
	})
	for range 5 {
		w.page(t, "/")
	}
	now = now.Add(time.Second)
	w.page(t, "/")
	if taken != 2 {
		t.Errorf("stock was taken %d times for six pages in a second, want 2", taken)
	}
}
