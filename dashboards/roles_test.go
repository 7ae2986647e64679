package dashboards_test

import (
	"crypto/sha256"
	"net/http"
	"net/netip"
	"net/url"
	"strings"
	"testing"

	"golang.org/x/crypto/bcrypt"

	"heaterd/dashboards"
	"heaterd/dashboards/access"
)

func withUsers(t testing.TB) func(*dashboards.Options) {
	t.Helper()
	hash, err := bcrypt.GenerateFromPassword([]byte("correct horse"), bcrypt.MinCost)
	if err != nil {
		t.Fatal(err)
	}
	return func(o *dashboards.Options) {
		for _, role := range []access.Role{access.Viewer, access.Technician, access.Safety} {
			o.Users = append(o.Users, access.User{Name: "user-" + string(role), Role: role, Bcrypt: hash})
			o.Tokens = append(o.Tokens, access.Token{Name: "token-" + string(role), Role: role, SHA256: sha256.Sum256([]byte("secret-" + string(role)))})
		}
		o.TrustedProxies = []netip.Prefix{netip.MustParsePrefix("10.1.0.0/16")}
		o.ProxyHeader = "X-Remote-User"
	}
}

// filled gives a route's pattern real values.
func filled(pattern string) string {
	id := "H-07"
	switch {
	case strings.Contains(pattern, "alarms"):
		id = "H-08.shutdown-unexplained.5"
	case strings.Contains(pattern, "sites"):
		id = "quay"
	case strings.Contains(pattern, "nodes"):
		id = "n-07"
	}
	return strings.NewReplacer("{$}", "", "{id}", id, "{token}", "none", "{name}", "style.css").Replace(pattern)
}

// TestEveryRouteAsksForItsRole sends every route once as every kind of
// visitor.
func TestEveryRouteAsksForItsRole(t *testing.T) {
	w := newWorld(t, withUsers(t))
	for _, r := range dashboards.RouteTable() {
		if r.Pattern == "/events" {
			continue // a stream: see TestEvents
		}
		for _, role := range access.Roles() {
			var header []string
			if role != access.Nobody {
				header = []string{"Authorization", "Bearer secret-" + string(role)}
			}
			var form url.Values
			if r.Method == http.MethodPost {
				form = url.Values{}
			}
			rec := w.do(r.Method, filled(r.Pattern), form, header...)
			if got, want := admitted(rec.Code, rec.Header().Get("Location"), r.Pattern), role.Covers(r.Role); got != want {
				t.Errorf("%s %s as %q: let in %t, want %t (status %d)", r.Method, r.Pattern, role, got, want, rec.Code)
			}
		}
	}
}

func admitted(code int, location, pattern string) bool {
	toLogin := code == http.StatusSeeOther && strings.HasPrefix(location, "/login")
	if pattern == "/login" || pattern == "/logout" {
		return true // open to all; their own statuses look like refusals
	}
	return code != http.StatusUnauthorized && code != http.StatusForbidden && !toLogin
}

func TestEveryWritingRouteNeedsMoreThanAViewer(t *testing.T) {
	open := map[string]bool{"/login": true, "/logout": true, "/a/{token}": true}
	for _, r := range dashboards.RouteTable() {
		if r.Method != http.MethodGet && !open[r.Pattern] && !r.Role.Covers(access.Technician) {
			t.Errorf("%s %s is open to %q", r.Method, r.Pattern, r.Role)
		}
		if strings.HasSuffix(r.Pattern, "/reset") && r.Role != access.Safety {
			t.Errorf("%s is open to %q, but only safety may reset", r.Pattern, r.Role)
		}
	}
}

func TestSigningIn(t *testing.T) {
	w := newWorld(t, withUsers(t))
	rec := w.do("GET", "/heaters/H-07?range=7d", nil)
	if got := rec.Header().Get("Location"); got != "/login?next=%2Fheaters%2FH-07%3Frange%3D7d" {
		t.Fatalf("a stranger is sent to %q", got)
	}
	bad := w.do("POST", "/login", url.Values{"name": {"user-viewer"}, "password": {"wrong"}})
	if bad.Code != http.StatusUnauthorized || len(bad.Result().Cookies()) > 0 {
		t.Fatalf("a wrong password gives %d and %v", bad.Code, bad.Result().Cookies())
	}
	good := w.do("POST", "/login", url.Values{"name": {"user-viewer"}, "password": {"correct horse"}, "next": {"/alarms"}})
	if good.Code != http.StatusSeeOther || good.Header().Get("Location") != "/alarms" {
		t.Fatalf("signing in gives %d, %q", good.Code, good.Header().Get("Location"))
	}
	c := good.Result().Cookies()[0]
	if !c.HttpOnly || c.SameSite != http.SameSiteLaxMode {
		t.Errorf("the session cookie is %+v", c)
	}
	page := w.do("GET", "/", nil, "Cookie", c.Name+"="+c.Value)
	has(t, page.Body.String(), "user-viewer, viewer", "Sign out")
	if strings.Contains(page.Body.String(), ">Acknowledge<") {
		t.Error("a viewer is shown a button that is not for viewers")
	}
	forged := w.do("GET", "/", nil, "Cookie", c.Name+"="+strings.Replace(c.Value, ".", "x.", 1))
	if forged.Code != http.StatusSeeOther {
		t.Errorf("a changed cookie gives %d", forged.Code)
	}
}

func TestSigningInIsLimited(t *testing.T) {
	w := newWorld(t, withUsers(t))
	codes := map[int]int{}
	for range 8 {
		codes[w.do("POST", "/login", url.Values{"name": {"user-viewer"}, "password": {"guess"}}).Code]++
	}
	if codes[http.StatusTooManyRequests] != 3 {
		t.Errorf("eight guesses gave %v, want three of them refused", codes)
	}
}

func TestTheProxysWordCountsFromItsNetworkOnly(t *testing.T) {
	w := newWorld(t, withUsers(t))
	ask := func(peer string) int {
		r := newRequest("GET", "/alarms")
		r.RemoteAddr = peer + ":5555"
		r.Header.Set("X-Remote-User", "user-safety")
		return serve(w, r).Code
	}
	if got := ask("10.1.2.3"); got != http.StatusOK {
		t.Errorf("from the trusted proxy: %d", got)
	}
	if got := ask("10.2.0.1"); got != http.StatusSeeOther {
		t.Errorf("from elsewhere: %d", got)
	}
}

func TestWithoutUsersOnlyThisMachineIsAnswered(t *testing.T) {
	w := newWorld(t)
	for host, want := range map[string]int{
		"localhost:8080": 200, "127.0.0.1:8080": 200, "[::1]:8080": 200,
		"heaters.example": 421, "10.0.0.5:8080": 421, "localhost.example": 421,
	} {
		r := newRequest("GET", "/")
		r.Host = host
		if got := serve(w, r).Code; got != want {
			t.Errorf("asked for as %s: %d, want %d", host, got, want)
		}
	}
	has(t, w.page(t, "/"), "No users are configured")
}

// TestWithoutUsersNoProxyIsAnswered: a reverse proxy on this machine that names
// it in every request would let everybody in.
func TestWithoutUsersNoProxyIsAnswered(t *testing.T) {
	for _, header := range []string{"Forwarded", "X-Forwarded-For", "X-Forwarded-Host", "X-Forwarded-Proto", "X-Real-IP", "Via"} {
		for path, w := range map[string]*world{"/": newWorld(t), "/login": newWorld(t, withUsers(t))} {
			want := http.StatusForbidden
			if path == "/login" {
				want = http.StatusOK
			}
			rec := w.do("GET", path, nil, header, "198.51.100.7")
			if rec.Code != want || want == http.StatusForbidden && !strings.Contains(rec.Body.String(), "Configure users") {
				t.Errorf("%s with %s: %d, want %d: %s", path, header, rec.Code, want, rec.Body)
			}
		}
	}
}

func TestOtherSitesCannotAct(t *testing.T) {
	w := newWorld(t)
	rec := w.do("POST", "/heaters/H-07/refuel", url.Values{"by": {"Kim"}}, "Sec-Fetch-Site", "cross-site", "Origin", "https://elsewhere.example")
	if rec.Code != http.StatusForbidden || w.count() != 0 {
		t.Errorf("a form of another site gives %d and %d lines", rec.Code, w.count())
	}
}

func TestEveryAnswerIsShielded(t *testing.T) {
	w := newWorld(t)
	for _, path := range []string{"/", "/nowhere", "/api/v1/fleet", "/static/style.css"} {
		h := w.do("GET", path, nil).Header()
		for key, want := range map[string]string{
			"X-Content-Type-Options": "nosniff", "Referrer-Policy": "same-origin",
			"Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
		} {
			if h.Get(key) != want {
				t.Errorf("%s: %s is %q", path, key, h.Get(key))
			}
		}
	}
}

func TestAFormMayNotBeEndless(t *testing.T) {
	w := newWorld(t)
	rec := w.do("POST", "/heaters/H-07/refuel", url.Values{"by": {"Kim"}, "note": {strings.Repeat("x", 100_000)}})
	if rec.Code < 400 || w.count() != 0 {
		t.Errorf("100 kB give %d and %d lines", rec.Code, w.count())
	}
}
