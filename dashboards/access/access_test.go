package access_test

import (
	"crypto/sha256"
	"errors"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"strings"
	"testing"
	"time"

	"golang.org/x/crypto/bcrypt"

	"heaterd/dashboards/access"
)

var start = time.Date(2026, 1, 14, 15, 0, 0, 0, time.UTC)

func hash(t testing.TB, password string) []byte {
	t.Helper()
	h, err := bcrypt.GenerateFromPassword([]byte(password), bcrypt.MinCost)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func request(from string, cookies ...*http.Cookie) *http.Request {
	r := httptest.NewRequest("GET", "/alarms", nil)
	r.RemoteAddr = from
	for _, c := range cookies {
		r.AddCookie(c)
	}
	return r
}

func TestRolesCoverThoseBelow(t *testing.T) {
	roles := access.Roles()
	for i, r := range roles {
		for j, needed := range roles {
			if got := r.Covers(needed); got != (i >= j) {
				t.Errorf("%q covers %q: %t", r, needed, got)
			}
		}
	}
	if access.Role("owner").Covers(access.Viewer) || access.Safety.Covers("owner") {
		t.Error("a role that is not known counts")
	}
}

func TestASessionEnds(t *testing.T) {
	now := start
	o := access.Options{
		Users:  []access.User{{Name: "kim", Role: access.Technician, Bcrypt: hash(t, "one")}, {Name: "lee", Role: access.Viewer, Bcrypt: hash(t, "two")}},
		Secret: []byte("a secret"), Now: func() time.Time { return now },
	}
	g := access.New(o)
	c, err := g.SignIn(request("192.0.2.1:1"), "kim", "one")
	if err != nil {
		t.Fatal(err)
	}
	if v := g.Who(request("192.0.2.1:1", c)); v.Name != "kim" || v.Role != access.Technician || !v.Signed {
		t.Fatalf("signed in as %+v", v)
	}
	now = start.Add(12*time.Hour + time.Second)
	if v := g.Who(request("192.0.2.1:1", c)); v.Name != "" {
		t.Error("a session lasts longer than twelve hours")
	}
	now = start
	o.Users[0].Bcrypt = hash(t, "new")
	if v := access.New(o).Who(request("192.0.2.1:1", c)); v.Name != "" {
		t.Error("a session outlives a change of password")
	}
	o.Users = o.Users[1:]
	if v := access.New(o).Who(request("192.0.2.1:1", c)); v.Name != "" {
		t.Error("a session outlives its user")
	}
}

func TestPasswordsThatAreNone(t *testing.T) {
	g := access.New(access.Options{
		Users: []access.User{{Name: "kim", Role: access.Viewer, Bcrypt: hash(t, "one")}, {Name: "proxied", Role: access.Safety}}, Secret: []byte("s"),
		Now: func() time.Time { return start },
	})
	for i, try := range [][2]string{{"kim", ""}, {"kim", "One"}, {"proxied", ""}, {"nobody", "nobody"}, {"", ""}} {
		from := netip.AddrFrom4([4]byte{192, 0, 2, byte(i)}).String() + ":1"
		if _, err := g.SignIn(request(from), try[0], try[1]); !errors.Is(err, access.ErrNotSignedIn) {
			t.Errorf("%q with %q: %v", try[0], try[1], err)
		}
	}
}

func TestAttemptsAreCountedByNetwork(t *testing.T) {
	now := start
	g := access.New(access.Options{
		Users: []access.User{{Name: "kim", Role: access.Viewer, Bcrypt: hash(t, "one")}}, Secret: []byte("s"), Now: func() time.Time { return now },
	})
	refused := 0
	for _, host := range []string{"1", "2", "3", "4", "5", "6", "7"} {
		if _, err := g.SignIn(request("[2001:db8::"+host+"]:1"), "kim", "guess"); errors.Is(err, access.ErrTooMany) {
			refused++
		}
	}
	if refused != 2 {
		t.Errorf("%d of seven guesses from one /64 were refused, want 2", refused)
	}
	now = now.Add(time.Minute)
	if _, err := g.SignIn(request("[2001:db8::1]:1"), "kim", "one"); err != nil {
		t.Errorf("a minute later: %v", err)
	}
}

func TestTokens(t *testing.T) {
	g := access.New(access.Options{
		Users:  []access.User{{Name: "kim", Role: access.Viewer}},
		Tokens: []access.Token{{Name: "a", Role: access.Viewer, SHA256: sha256.Sum256([]byte("one"))}, {Name: "b", Role: access.Safety, SHA256: sha256.Sum256([]byte("two"))}},
	})
	for header, want := range map[string]string{"Bearer one": "a", "Bearer two": "b", "Bearer three": "", "Bearer ": "", "two": "", "Basic two": ""} {
		r := request("192.0.2.1:1")
		r.Header.Set("Authorization", header)
		if v := g.Who(r); v.Name != want {
			t.Errorf("%q is %+v, want %q", header, v, want)
		}
	}
}

// TestForwardedAddressesCountFromProxiesOnly checks who is asked where
// somebody comes from; what a stranger writes into the header is not believed.
func TestForwardedAddressesCountFromProxiesOnly(t *testing.T) {
	g := access.New(access.Options{TrustedProxies: []netip.Prefix{netip.MustParsePrefix("10.0.0.0/8")}})
	for _, c := range []struct{ peer, header, want string }{
		{"192.0.2.1:1", "198.51.100.7", "192.0.2.1"},
		{"10.1.1.1:1", "198.51.100.7", "198.51.100.7"},
		{"10.1.1.1:1", "made.up, 198.51.100.7", "198.51.100.7"},
		{"10.1.1.1:1", "made.up\n198.51.100.7", "198.51.100.7"}, // the proxy added a line of its own
		{"10.1.1.1:1", "rubbish", "10.1.1.1"},
		{"10.1.1.1:1", "", "10.1.1.1"},
		{"[::ffff:10.1.1.1]:1", "198.51.100.7", "198.51.100.7"},
	} {
		r := request(c.peer)
		r.Header["X-Forwarded-For"] = strings.Split(c.header, "\n")
		if v := g.Who(r); v.From != c.want {
			t.Errorf("%s with %q comes from %q, want %q", c.peer, c.header, v.From, c.want)
		}
	}
}

func TestTheCookieIsSecureBehindTLS(t *testing.T) {
	g := access.New(access.Options{
		Users:          []access.User{{Name: "kim", Role: access.Viewer, Bcrypt: hash(t, "one")}},
		TrustedProxies: []netip.Prefix{netip.MustParsePrefix("10.0.0.0/8")}, Now: func() time.Time { return start },
	})
	for peer, want := range map[string]bool{"10.0.0.1:1": true, "192.0.2.1:1": false} {
		r := request(peer)
		r.Header.Set("X-Forwarded-Proto", "https")
		c, err := g.SignIn(r, "kim", "one")
		if err != nil || c.Secure != want || !c.HttpOnly {
			t.Errorf("from %s: %+v, %v", peer, c, err)
		}
	}
}
