package dashboards_test

import (
	"net/url"
	"strings"
	"testing"
	"unicode/utf8"
)

// FuzzQuery sends anything as query to the pages that read one: never a
// fault of the server, always whole UTF-8, and nothing of it unescaped.
func FuzzQuery(f *testing.F) {
	paths := []string{"/", "/heaters/H-07", "/reports/exposure", "/reports/season", "/reports/alarms", "/service", "/service.ics", "/log", "/login", "/api/v1/exposure", "/api/v1/heaters/H-07/burns", "/api/v1/refused", "/api/v1/trends"}
	for i := range paths {
		f.Add(uint8(i), "q=x&site=quay&page=2&range=7d&units=us&said=reset")
		f.Add(uint8(i), "site=quay&space=hall&from=2026-01-01&to=2026-01-14&format=csv")
	}
	f.Add(uint8(0), "q=<script>&page=-9223372036854775808")
	f.Add(uint8(2), "site=quay&space=hall&from=0001-01-01&to=9999-12-31")
	f.Add(uint8(10), "from=0000-01-01T00:00:00Z&to=9999-12-31T23:59:59Z")
	w := newWorld(f)
	f.Fuzz(func(t *testing.T, which uint8, query string) {
		r := newRequest("GET", paths[int(which)%len(paths)])
		r.URL.RawQuery = query
		rec := serve(w, r)
		if rec.Code >= 500 {
			t.Fatalf("%s?%s: %d", r.URL.Path, query, rec.Code)
		}
		page := rec.Body.String()
		if !utf8.ValidString(page) {
			t.Fatalf("%s?%s: not UTF-8", r.URL.Path, query)
		}
		html := strings.HasPrefix(rec.Header().Get("Content-Type"), "text/html")
		if q, _ := url.ParseQuery(query); html && strings.Contains(q.Get("q"), "<script>") && strings.Count(page, "<script") > 1 {
			t.Fatalf("%s?%s: unescaped", r.URL.Path, query)
		}
	})
}
