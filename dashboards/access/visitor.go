package access

import (
	"crypto/sha256"
	"crypto/subtle"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"strings"
	"sync/atomic"
	"time"

	"golang.org/x/time/rate"
)

// Visitor is who sent a request.
type Visitor struct {
	Name   string // empty: not known; without users people give their name with each act
	Role   Role
	Signed bool   // signed in by password, so that signing out means something
	Open   bool   // no users are configured: everybody may do everything
	From   string // address of the peer, or what a trusted proxy says it is
}

// User is somebody who may sign in.
type User struct {
	Name   string
	Role   Role
	Bcrypt []byte // hash of the password; empty: signs in by the trusted proxy only
}

// Token lets a program in.
type Token struct {
	Name   string
	Role   Role
	SHA256 [32]byte // digest of the token
}

// Options are how visitors are told apart.
type Options struct {
	Users          []User
	Tokens         []Token
	TrustedProxies []netip.Prefix // whose word about the visitor is taken
	ProxyHeader    string         // header in which they name the user; empty: they do not
	Secret         []byte         // key of the session cookies
	Now            func() time.Time
	Log            *slog.Logger // is told of attempts that failed; nil: nothing is
}

// Gate tells visitors apart.
type Gate struct {
	o       Options
	limiter limiter
	words   *rate.Limiter // about attempts that failed
	untold  atomic.Int64  // of them, since the last word
}

// New makes a gate.
func New(o Options) *Gate {
	if o.Now == nil {
		o.Now = time.Now
	}
	return &Gate{o: o, limiter: newLimiter(), words: newWords()}
}

// Open reports whether no users are configured.
func (g *Gate) Open() bool { return len(g.o.Users) == 0 }

// Who tells who sent a request.
func (g *Gate) Who(r *http.Request) Visitor {
	from, proxied := g.origin(r)
	v := Visitor{From: from}
	if t, ok := g.token(r); ok {
		v.Name, v.Role = t.Name, t.Role
		return v
	}
	if presented(r) != "" {
		g.failed(from, "token", "it is not known", "")
	}
	if g.Open() {
		v.Role, v.Open = Safety, true
		return v
	}
	if u, ok := g.byProxy(r, proxied); ok {
		v.Name, v.Role = u.Name, u.Role
		return v
	}
	if u, ok := g.bySession(r); ok {
		v.Name, v.Role, v.Signed = u.Name, u.Role, true
	}
	return v
}

// token finds the token a request carries, as a bearer (RFC 6750) or, for
// calendars that can send no header, as the parameter token. Every token is
// compared, in constant time.
func (g *Gate) token(r *http.Request) (Token, bool) {
	secret := presented(r)
	if secret == "" {
		return Token{}, false
	}
	digest := sha256.Sum256([]byte(secret))
	match := -1
	for i := range g.o.Tokens {
		if subtle.ConstantTimeCompare(digest[:], g.o.Tokens[i].SHA256[:]) == 1 {
			match = i
		}
	}
	if match < 0 {
		return Token{}, false
	}
	return g.o.Tokens[match], true
}

func presented(r *http.Request) string {
	if secret, found := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer "); found {
		return secret
	}
	if strings.HasSuffix(r.URL.Path, ".ics") {
		return r.URL.Query().Get("token")
	}
	return ""
}

// origin gives the address of the visitor and whether a trusted proxy sent
// the request. The last address a trusted proxy added is taken, the others
// can be made up by anyone.
func (g *Gate) origin(r *http.Request) (address string, proxied bool) {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		host = r.RemoteAddr
	}
	if !g.trusts(host) {
		return host, false
	}
	hops := strings.Split(strings.Join(r.Header.Values("X-Forwarded-For"), ","), ",") // a proxy may add a line, not a word
	if ip, err := netip.ParseAddr(strings.TrimSpace(hops[len(hops)-1])); err == nil {
		return ip.String(), true
	}
	return host, true
}

func (g *Gate) trusts(host string) bool {
	ip, err := netip.ParseAddr(host)
	if err != nil {
		return false
	}
	for _, p := range g.o.TrustedProxies {
		if p.Contains(ip.Unmap()) {
			return true
		}
	}
	return false
}

func (g *Gate) byProxy(r *http.Request, proxied bool) (User, bool) {
	if g.o.ProxyHeader == "" || !proxied {
		return User{}, false
	}
	return g.user(r.Header.Get(g.o.ProxyHeader))
}

func (g *Gate) user(name string) (User, bool) {
	for _, u := range g.o.Users {
		if name != "" && u.Name == name {
			return u, true
		}
	}
	return User{}, false
}

// Secure reports whether the visitor's connection is encrypted, by this
// server or by a trusted proxy before it.
func (g *Gate) Secure(r *http.Request) bool {
	if r.TLS != nil {
		return true
	}
	_, proxied := g.origin(r)
	return proxied && r.Header.Get("X-Forwarded-Proto") == "https"
}
