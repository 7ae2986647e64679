package dashboards

import (
	"bytes"
	"encoding/csv"
	"net/http"
	"strings"
)

// sheet is a table that can be had as CSV (RFC 4180). It is written as its rows
// come, for there may be very many.
type sheet struct {
	name string // of the file, without its ending
	raw  bytes.Buffer
	csv  *csv.Writer
}

func newSheet(name string, head ...string) *sheet {
	s := &sheet{name: name}
	s.csv = csv.NewWriter(&s.raw)
	s.csv.UseCRLF = true
	s.row(head...)
	return s
}

func (s *sheet) row(cells ...string) { _ = s.csv.Write(cells) } // send tells of an error

// text makes a cell of words from outside harmless to spreadsheets, which
// take what begins with one of these characters for a formula (OWASP, CSV
// injection). Figures written here need no such care.
func text(s string) string {
	s = line(s, longestNote)
	if s != "" && strings.ContainsRune("=+-@\t\r|%", rune(s[0])) {
		return "'" + s
	}
	return s
}

func (s *sheet) send(w http.ResponseWriter) error {
	s.csv.Flush()
	if err := s.csv.Error(); err != nil {
		return err
	}
	w.Header().Set("Content-Disposition", `attachment; filename="`+s.name+`.csv"`)
	writeWhole(w, "text/csv; charset=utf-8", s.raw.Bytes())
	return nil
}

func wantsCSV(r *http.Request) bool { return r.URL.Query().Get("format") == "csv" }
