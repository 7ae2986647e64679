package dashboards

import (
	"heaterd/alerts/fold"
	"heaterd/alerts/ledger"
	"heaterd/ingest/reading"
)

// stay is the time that a node was on a heater.
type stay struct {
	Node     reading.NodeID
	From, To reading.Instant // To is its end, not in it
}

const (
	always = reading.Instant(-1 << 63)
	never  = reading.Instant(1<<63 - 1)
)

// stays tells which nodes a heater carried, by the service log of all heaters,
// oldest first: what a node measured belongs to where it was then. Before the
// first fitting it is the configured one, unless that is the one fitted: where
// it was before, nobody wrote down.
func stays(h *fold.HeaterView, log []ledger.EntryRow) []stay {
	var out []stay
	now := stay{Node: h.Configured, From: always, To: never}
	for _, r := range log {
		node := reading.NodeID(r.Entry.Node)
		switch {
		case r.Entry.Task != "fit-node" || node == "":
			continue
		case r.Entry.Heater == h.ID && node != now.Node:
			out = now.until(r.At, out)
			now = stay{Node: node, From: r.At, To: never}
		case r.Entry.Heater == h.ID && now.From == always:
			now.From = r.At
		case node == now.Node: // fitted elsewhere
			out = now.until(r.At, out)
			now = stay{}
		}
	}
	out = now.until(never, out)
	if h.Node != "" && h.Node != now.Node { // the configuration has named another since; when, nobody wrote down
		out = append(out, stay{Node: h.Node, From: now.From, To: never})
	}
	return out
}

func (s stay) until(t reading.Instant, all []stay) []stay {
	if s.Node == "" {
		return all
	}
	s.To = t
	return append(all, s)
}
