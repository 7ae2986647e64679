package dashboards

import (
	"context"
	"errors"
	"net/http"
	"net/netip"
	"net/url"
	"strings"

	"heaterd/dashboards/access"
)

// The most a request may carry, bytes: a note of some pages; a configuration of
// 4 MiB, which is the longest that is read, as browsers write it in a form.
const (
	largestForm  = 64 << 10
	largestTrial = 12 << 20
)

const contentPolicy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; " +
	"connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// shielded is what holds for every answer.
func (p *pages) shielded(next http.Handler) http.Handler {
	cross := http.NewCrossOriginProtection()
	cross.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		p.fail(w, r, problem(http.StatusForbidden, "This came from the page of another site and was not done."))
	}))
	next = cross.Handler(next)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", contentPolicy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin") // a refused form leads back to its page
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		if text, status := p.fromAfar(r); status != 0 {
			http.Error(w, text, status)
			return
		}
		next.ServeHTTP(w, r)
	})
}

// fromAfar tells why a request is not answered where no users are configured,
// for it does not come from this machine itself; status 0: it does, or there
// are users. A reverse proxy may name this machine in the request of anybody,
// but says that it passed the request on.
func (p *pages) fromAfar(r *http.Request) (text string, status int) {
	switch by := passedOn(r.Header); {
	case !p.gate.Open():
		return "", 0
	case !loopback(r.Host):
		return "Without users configured the pages answer only to localhost and loopback addresses, not to " +
			clipped(r.Host, 80) + ". Configure users to reach them by another name.", http.StatusMisdirectedRequest
	case by != "":
		return "Without users configured the pages answer only to this machine itself, and this request was passed on by a proxy (header " +
			by + "). Configure users to reach them through it.", http.StatusForbidden
	}
	return "", 0
}

// passedOn gives the header by which a proxy says that it passed a request on;
// empty: none does.
func passedOn(h http.Header) string {
	for _, name := range []string{"Forwarded", "X-Forwarded-For", "X-Forwarded-Host", "X-Forwarded-Proto", "X-Real-Ip", "Via"} {
		if h.Get(name) != "" {
			return name
		}
	}
	return ""
}

// loopback reports whether a request named this machine itself: a name that
// some other page made point here must not let that page in.
func loopback(host string) bool {
	name := (&url.URL{Host: host}).Hostname()
	ip, err := netip.ParseAddr(name)
	return err == nil && ip.IsLoopback() || strings.EqualFold(name, "localhost")
}

type visitorKey struct{}

// visitor gives who sent the request.
func visitor(r *http.Request) access.Visitor {
	v, _ := r.Context().Value(visitorKey{}).(access.Visitor)
	return v
}

// guarded lets a request through to a route if its sender may use it.
func (p *pages) guarded(t route) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		v := p.gate.Who(r)
		r = r.WithContext(context.WithValue(r.Context(), visitorKey{}, v))
		r.Body = http.MaxBytesReader(w, r.Body, t.largest())
		if !v.Role.Covers(t.Role) {
			p.refuse(w, r, t)
			return
		}
		err := readForm(r)
		if err == nil {
			err = t.serve(p, w, r)
		}
		if err != nil {
			p.fail(w, r, err)
		}
	})
}

func (t route) largest() int64 {
	if t.Pattern == backtestPath {
		return largestTrial
	}
	return largestForm
}

// readForm reads the whole form that was posted, if it is one: FormValue makes
// do with what it can read of one that is too long, broken, or was cut off.
func readForm(r *http.Request) error {
	if r.Method != http.MethodPost {
		return nil
	}
	err := r.ParseForm()
	if err == nil {
		err = r.ParseMultipartForm(largestTrial) // #nosec G120 -- in memory, all of it: guarded bounds the body
	}
	if errors.Is(err, http.ErrNotMultipart) {
		err = nil
	}
	if _, ok := errors.AsType[*http.MaxBytesError](err); ok || err == nil {
		return err
	}
	return problem(http.StatusBadRequest, "The form cannot be read: it is broken, or was cut off on its way. Nothing was written down; send it again.")
}

// refuse asks strangers to sign in and tells others that their role does not
// do.
func (p *pages) refuse(w http.ResponseWriter, r *http.Request, t route) {
	v := visitor(r)
	switch {
	case v.Name != "":
		p.fail(w, r, problem(http.StatusForbidden, "This needs the role %s; %s has the role %s. Nothing was done: ask somebody who has it.", t.Role, v.Name, v.Role))
	case r.Method == http.MethodPost && !t.Program && !wantsJSON(r):
		p.signInFirst(w, r)
	case wantsJSON(r) || t.Program:
		w.Header().Set("WWW-Authenticate", `Bearer realm="heaterd"`)
		p.fail(w, r, problem(http.StatusUnauthorized, "Sign in, or send a token."))
	default:
		http.Redirect(w, r, "/login?"+url.Values{"next": {r.URL.RequestURI()}}.Encode(), http.StatusSeeOther)
	}
}

// wantsJSON reports whether the visitor is a program: it asks below /api/, or
// accepts nothing else.
func wantsJSON(r *http.Request) bool {
	return strings.HasPrefix(r.URL.Path, "/api/") || r.Header.Get("Accept") == "application/json"
}

func clipped(s string, n int) string {
	r := []rune(s)
	if len(r) <= n {
		return s
	}
	return string(r[:n]) + "…"
}
