package dashboards_test

import (
	"strings"
	"testing"

	"heaterd/dashboards"
)

// TestALabelLeadsSomewhere checks that no code is printed that leads a
// telephone to itself.
func TestALabelLeadsSomewhere(t *testing.T) {
	for base, leads := range map[string]bool{
		"": false, "http://127.0.0.1:8080": false, "http://[::1]:8080": false, "http://0.0.0.0:8080": false, "http://pages.localhost": false,
		"https://heaters.example": true, "http://192.0.2.7:8080": true, "https://localhost.example/": true,
	} {
		w := newWorld(t, func(o *dashboards.Options) { o.BaseURL = base })
		page := w.page(t, "/heaters/H-07/label")
		if got := strings.Contains(page, `class="qr"`); got != leads {
			t.Errorf("%q: a code %t, want %t", base, got, leads)
		}
		if !leads {
			has(t, page, "There is no code to print yet", "base_url", "listen")
		}
	}
}

func TestALabelWithoutAConfiguredAddressIsWhereTheVisitorIs(t *testing.T) {
	w := newWorld(t, withUsers(t))
	r := newRequest("GET", "/heaters/H-07/label")
	r.Host = "heaters.example:8443"
	r.Header.Set("Authorization", "Bearer secret-viewer")
	has(t, serve(w, r).Body.String(), `class="qr"`, "http://heaters.example:8443/heaters/H-07")
}
