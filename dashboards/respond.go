package dashboards

import (
	"bytes"
	"cmp"
	"encoding/json"
	"net/http"
	"net/url"
	"time"

	"heaterd/dashboards/access"
	"heaterd/ingest/reading"
)

// Page is what the frame around every page shows.
type Page struct {
	Title    string
	Here     string // part of the site, for the navigation
	Live     bool   // parts of it are kept up to date
	Alone    bool   // it is kept as a file
	Seen     int64  // how far the alarm loop had read when At was
	Visitor  access.Visitor
	Units    Units
	SwitchTo string // query that switches the units
	Path     string
	At       reading.Instant
	Zone     *time.Location // of the one site it is about, else of all; nil: UTC
	Who      string         // name last given, for forms
	Said     string         // what was just done, to be said
	Troubles []trouble
	Typed    url.Values // what the form on it held when it was refused; nil: it was not
	Body     any
}

// May reports whether the visitor may do what asks for a role.
func (p Page) May(role access.Role) bool { return p.Visitor.Role.Covers(role) }

// render writes a page. It is made in memory first, so that a fault in the
// middle does not leave half a page.
func (p *pages) render(w http.ResponseWriter, r *http.Request, status int, name string, page Page, body any) {
	page.Visitor, page.Units, page.Body = visitor(r), p.unitsOf(r), body
	if r.URL.Query().Get("units") == string(page.Units) {
		p.remember(w, r, "units", string(page.Units))
	}
	page.Path, page.Alone = r.URL.Path, p.o.Alone
	if page.May(access.Viewer) {
		page.Troubles = p.troubles()
		page.Zone = cmp.Or(page.Zone, p.take().common)
	}
	page.Live = page.Live && p.o.Changed != nil
	page.Seen = p.seenAt(page.At)
	page.Who = p.whoBefore(r)
	q := r.URL.Query()
	q.Set("units", string(page.Units.other()))
	q.Del("said")
	page.SwitchTo = "?" + q.Encode()
	if r.Method != http.MethodGet && r.Method != http.MethodHead { // what a form was sent to is no page
		page.SwitchTo = "/" + page.SwitchTo
	}
	if page.Said == "" {
		page.Said = said[r.URL.Query().Get("said")]
	}
	if page.At == 0 {
		page.At = reading.InstantOf(p.o.Now())
	}
	var b bytes.Buffer
	if err := templates[name].ExecuteTemplate(&b, "frame", page); err != nil {
		p.o.Log.Error("a page could not be written", "page", name, "err", err)
		http.Error(w, "Something went wrong here; it was written to the daemon's log.", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_, _ = w.Write(b.Bytes())
}

// show renders a page that was found.
func (p *pages) show(w http.ResponseWriter, r *http.Request, name string, page Page, body any) error {
	p.render(w, r, http.StatusOK, name, page, body)
	return nil
}

// writeWhole writes an answer that was made in memory. That its reader went away
// meanwhile is nothing that could be told.
func writeWhole(w http.ResponseWriter, kind string, raw []byte) {
	w.Header().Set("Content-Type", kind)
	_, _ = w.Write(raw) // #nosec G705 -- a calendar, a table or plain text, as kind says: no page of it
}

func writeJSON(w http.ResponseWriter, status int, v any) { writeAs(w, "application/json", status, v) }

func writeAs(w http.ResponseWriter, kind string, status int, v any) {
	raw, err := json.MarshalIndent(v, "", " ")
	if err != nil {
		http.Error(w, "cannot write the answer", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", kind)
	w.WriteHeader(status)
	_, _ = w.Write(append(raw, '\n'))
}

// whoBefore gives the name the visitor gave last, or signed in with.
func (p *pages) whoBefore(r *http.Request) string {
	if v := visitor(r); v.Name != "" {
		return v.Name
	}
	if c, err := r.Cookie("who"); err == nil {
		return decodeName(c.Value)
	}
	return ""
}
