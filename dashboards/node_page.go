package dashboards

import (
	"bytes"
	"encoding/hex"
	"net/http"
	"time"
	"unicode"
	"unicode/utf8"

	"heaterd/alerts/fold"
	"heaterd/ingest/reading"
)

// refusedShown is how many refused messages of a node are listed.
const refusedShown = 30

// nodePage is one sensor unit while it is being fitted: what it says, and
// what of it could not be read and why.
type nodePage struct {
	Node     reading.NodeID
	Heater   *fold.HeaterView // nil: the configuration fits it to none
	Now      reading.Instant
	Zone     *time.Location
	Readings []readingView
	Refused  []refusedView
	Recent   int    // readings in the last hour
	Unheard  string // that nothing ever came from it; empty: something did
	Expected string // topic under which it is to publish, while it was not heard
}

func (p *pages) node(w http.ResponseWriter, r *http.Request) error {
	s := p.take()
	id := reading.NodeID(r.PathValue("id"))
	if len(id) > 64 || !utf8.ValidString(string(id)) {
		return notFound("sensor unit", string(id))
	}
	body := nodePage{Node: id, Heater: s.nodes[id], Now: s.At}
	if h := body.Heater; h != nil {
		body.Zone = s.zone(h.Site)
		body.Readings = readings(h, p.unitsOf(r))
		if h.Heard == 0 {
			body.Expected = p.expected(h)
		}
	}
	err := p.o.Store.Samples(r.Context(), id, s.At.Add(-time.Hour), s.At+1, func(reading.Sample) bool {
		body.Recent++
		return true
	})
	if err != nil {
		return err
	}
	if body.Unheard, err = p.unheard(r.Context(), id); err != nil {
		return err
	}
	if body.Refused, err = p.refused(r.Context(), id, refusedShown); err != nil {
		return err
	}
	return p.show(w, r, "node", Page{Title: "Sensor unit " + string(id), Here: "fleet", Live: true, At: s.At, Zone: body.Zone}, body)
}

// printable shows a payload as text, or as bytes where it is none.
func printable(b []byte) string {
	b = bytes.TrimRightFunc(b, func(r rune) bool { return r == utf8.RuneError }) // cut in a character
	if utf8.Valid(b) && bytes.IndexFunc(b, func(r rune) bool { return !unicode.IsPrint(r) && !unicode.IsSpace(r) }) < 0 {
		return string(b)
	}
	return hex.Dump(b)
}
