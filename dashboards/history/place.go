package history

import (
	"context"
	"strings"
	"time"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// Place is where a node was. Empty fields are left out of the tags.
type Place struct {
	Site, Space, Heater string
}

// Places tell where a node was at an instant.
type Places func(reading.NodeID, reading.Instant) Place

// findPlaces finds out anew where every node was, where that may have changed
// before the lines were measured: a person fitted one, or some time has passed.
func (w *Writer) findPlaces(ctx context.Context, lines []record.Line) (err error) {
	if w.places != nil && time.Since(w.found) < findEvery && !anyFitted(lines) {
		return nil
	}
	places, err := w.o.Places(ctx)
	if err == nil {
		w.places, w.found = places, time.Now()
	}
	return err
}

func anyFitted(lines []record.Line) bool {
	for _, l := range lines {
		if l.Entry != nil && l.Entry.Node != "" {
			return true
		}
	}
	return false
}

// heads gives how the records of a node begin. Most of what is copied at a
// time was measured in one place.
func (p Places) heads(node reading.NodeID) func(reading.Instant) string {
	var head string
	var last Place
	return func(at reading.Instant) string {
		if here := p(node, at); head == "" || here != last {
			head, last = series(node, here), here
		}
		return head
	}
}

// series gives measurement and tags, the tags sorted by name.
func series(node reading.NodeID, p Place) string {
	var b strings.Builder
	b.WriteString(measurement)
	tag(&b, "heater", p.Heater)
	tag(&b, "node", string(node))
	tag(&b, "site", p.Site)
	tag(&b, "space", p.Space)
	return b.String()
}
