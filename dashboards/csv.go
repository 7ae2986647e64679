package dashboards

import (
	"bytes"
	"encoding/csv"
	"net/http"
	"strings"
)

// sheet is a table that can be had as CSV (RFC 4180).
type sheet struct {
	Name string // of the file, without its ending
	Head []string
	Rows [][]string
}

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

func (s sheet) send(w http.ResponseWriter) error {
	var b bytes.Buffer
	c := csv.NewWriter(&b)
	c.UseCRLF = true
	if err := c.WriteAll(append([][]string{s.Head}, s.Rows...)); err != nil {
		return err
	}
	w.Header().Set("Content-Disposition", `attachment; filename="`+s.Name+`.csv"`)
	writeWhole(w, "text/csv; charset=utf-8", b.Bytes())
	return nil
}

func wantsCSV(r *http.Request) bool { return r.URL.Query().Get("format") == "csv" }
