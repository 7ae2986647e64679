package dashboards_test

import (
	"net/http"
	"net/http/httptest"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"heaterd/alerts/fold"
	"heaterd/dashboards"
)

// TestNothingFallsBetweenAPageAndItsStream raises alarms once the page is
// made, before its browser asks for changes.
func TestNothingFallsBetweenAPageAndItsStream(t *testing.T) {
	var line atomic.Int64
	line.Store(1)
	w := newWorld(t, func(o *dashboards.Options) {
		o.Changed, o.Now = line.Load, time.Now
		o.View = func() fold.View {
			v := fixedView()
			if line.Load() == 1 {
				v.Alarms = nil
			}
			return v
		}
	})
	server := httptest.NewServer(http.HandlerFunc(func(rw http.ResponseWriter, r *http.Request) {
		w.handler.ServeHTTP(rw, r)
		if r.URL.Path == "/" {
			line.Store(2)
		}
	}))
	defer server.Close()
	defer server.CloseClientConnections()
	ctx := browser(t)
	if err := chromedp.Do(ctx, chromedp.Navigate(server.URL+"/")); err != nil {
		t.Fatal(err)
	}
	waitFor(t, ctx, `document.querySelectorAll(".alarm").length > 0`)
}
