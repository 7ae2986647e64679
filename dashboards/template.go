package dashboards

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"html/template"
	"io/fs"
	"net/http"
	"net/url"
	"path"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"heaterd/alerts/alarm"
	"heaterd/alerts/service"
	"heaterd/alerts/wording"
	"heaterd/dashboards/chart"
	"heaterd/ingest/reading"
)

//go:embed templates/*.html static/*
var files embed.FS

// templates holds every page within its frame, by name.
var templates = parse()

func parse() map[string]*template.Template {
	shared := template.Must(template.New("").Funcs(functions).ParseFS(files, "templates/frame.html", "templates/part_*.html"))
	out := map[string]*template.Template{}
	names, err := fs.Glob(files, "templates/*.html")
	if err != nil {
		panic("BUG: " + err.Error())
	}
	for _, n := range names {
		name := strings.TrimSuffix(path.Base(n), ".html")
		if name == "frame" || strings.HasPrefix(name, "part_") {
			continue
		}
		out[name] = template.Must(template.Must(shared.Clone()).ParseFS(files, n))
	}
	return out
}

var functions = template.FuncMap{
	"clock":    clock,
	"brief":    brief,
	"ago":      ago,
	"word":     word,
	"span":     span,
	"soon":     soon,
	"num":      fixed,
	"percent":  func(v float64) string { return fixed(v*100, 0) + " %" },
	"seg":      url.PathEscape,
	"name":     wording.Isolated,
	"dial":     wording.Dial,
	"sentence": sentence,
	"figure":   func(u Units, v float64, unit string) string { return u.figure(v, unit) },
	"f32":      func(v float32) float64 { return float64(v) },
	"deref":    func(v *float64) float64 { return *v },
	"day":      service.Date.Words,
	"fewest":   alarm.Fewest,
	"offset":   func(d time.Duration) string { return span(d.Abs()) },
	"title":    func(kind string) string { return wording.Title(alarm.Kind(kind)) },
	"state":    func(s alarm.State) string { return stateWords[s] },
	"changed":  changed,
	"zone":     func(z *time.Location, at reading.Instant) string { return chart.ZoneName(z, at, at) },
	"sign":     func(s chart.Sign) template.HTML { return template.HTML(s.SVG()) }, //nolint:gosec // constants
	"join":     strings.Join,
	"ownMarks": ownMarks,
	"asset":    asset,
	"style":    func() template.CSS { return style },
	"list":     func(v ...any) []any { return v },
	"lines":    func(s string) []string { return strings.Split(strings.TrimSpace(s), "\n") },
	"seconds":  func(s float64) string { return span(time.Duration(s * float64(time.Second))) },
}

// sentence begins text with a capital and ends it with a full stop.
func sentence(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return s
	}
	s = string(unicode.ToUpper(r)) + s[n:]
	if !strings.HasSuffix(s, ".") && !strings.HasSuffix(s, "?") && !strings.HasSuffix(s, "!") {
		s += "."
	}
	return s
}

// ownMark is a number, a letter or a bullet that a person began a line with.
var ownMark = regexp.MustCompile(`^(\d{1,2}[.):]|[A-Za-z][.)]|[-–*•])\s`)

// ownMarks reports whether a procedure brings its own numbers or bullets: then
// the page adds none, for "see step 3" means theirs.
func ownMarks(lines []string) bool { return slices.ContainsFunc(lines, ownMark.MatchString) }

// assets are the static files with a digest each, which their addresses
// carry so that browsers may keep them.
var assets = func() map[string]string {
	out := map[string]string{}
	entries, err := files.ReadDir("static")
	if err != nil {
		panic("BUG: " + err.Error())
	}
	for _, e := range entries {
		raw, err := files.ReadFile("static/" + e.Name())
		if err != nil {
			panic("BUG: " + err.Error())
		}
		sum := sha256.Sum256(raw)
		out[e.Name()] = hex.EncodeToString(sum[:6])
	}
	return out
}()

// style is the style sheet, for pages that carry it in them.
var style = func() template.CSS {
	raw, err := files.ReadFile("static/style.css")
	if err != nil {
		panic("BUG: " + err.Error())
	}
	return template.CSS(raw) //nolint:gosec // ours
}()

func asset(name string) string { return "/static/" + name + "?" + assets[name] }

func (p *pages) static(w http.ResponseWriter, r *http.Request) error {
	name := r.PathValue("name")
	digest, ok := assets[name]
	if !ok {
		return notFound("file", name)
	}
	if r.URL.RawQuery == digest {
		w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	} else {
		w.Header().Set("Cache-Control", "no-cache")
	}
	w.Header().Set("ETag", `W/"`+digest+`"`) // weak: compressed or not, it is the same file
	http.ServeFileFS(w, r, files, "static/"+name)
	return nil
}
