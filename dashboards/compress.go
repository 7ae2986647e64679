package dashboards

import (
	"net/http"

	"github.com/klauspost/compress/gzhttp"
)

// compressible is what is sent compressed to whoever takes it so: all that is
// written here in words. /metrics comes compressed already.
var compressible = []string{
	"text/html", "text/css", "text/javascript", "text/csv", "text/calendar", "application/json", "application/problem+json",
}

const eventsPath = "/events"

// compressed sends answers in gzip (RFC 1952), which every browser and calendar
// takes. The stream of events is kept out: each has to leave at once, and a
// reader that went away has to be noticed.
func compressed(next http.Handler) http.Handler {
	wrap, err := gzhttp.NewWrapper(gzhttp.EnableZstd(false), gzhttp.ContentTypes(compressible))
	if err != nil {
		panic("BUG: " + err.Error())
	}
	shorter := wrap(next)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == eventsPath {
			next.ServeHTTP(w, r)
			return
		}
		shorter(w, r)
	})
}
