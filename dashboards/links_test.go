package dashboards_test

import (
	"context"
	"html"
	"regexp"
	"strings"
	"testing"

	"heaterd/dashboards"
	"heaterd/dashboards/access"
)

var hrefs = regexp.MustCompile(`href="(/[^"#]*)`)

// TestEveryLinkLeadsSomewhere follows what the pages show, as each kind of
// visitor: nobody is offered what they are then refused.
func TestEveryLinkLeadsSomewhere(t *testing.T) {
	w := newWorld(t, withUsers(t), func(o *dashboards.Options) {
		o.Backtest = func(context.Context, int, string) (dashboards.Backtest, error) { return dashboards.Backtest{}, nil }
	})
	for _, role := range []access.Role{access.Viewer, access.Technician, access.Safety} {
		as := []string{"Authorization", "Bearer secret-" + string(role)}
		followed := map[string]bool{}
		for _, path := range browserPaths {
			for _, m := range hrefs.FindAllStringSubmatch(w.do("GET", path, nil, as...).Body.String(), -1) {
				to := html.UnescapeString(m[1])
				if followed[to] {
					continue
				}
				followed[to] = true
				if rec := w.do("GET", to, nil, as...); rec.Code >= 400 && !strings.HasPrefix(to, "/nowhere") {
					t.Errorf("%s on %s is answered %d to a %s", to, path, rec.Code, role)
				}
			}
		}
		if len(followed) < 30 {
			t.Errorf("only %d links were found", len(followed))
		}
	}
}
