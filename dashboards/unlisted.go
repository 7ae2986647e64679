package dashboards

import (
	"context"
	"slices"
	"strings"
	"time"

	"heaterd/alerts/fold"
	"heaterd/ingest/nearest"
	"heaterd/ingest/reading"
)

const (
	unlistedFor   = 24 * time.Hour // how long a unit that no heater has is told; common practice, no source
	unlistedShown = 5              // how many are named
)

// unlistedUnits are units that were heard and that no heater has: new ones, or
// one whose name is mistyped at either end, so that its heater stays unheard.
type unlistedUnits struct {
	Total int
	Units []unlistedUnit // the newest
}

type unlistedUnit struct {
	Node reading.NodeID
	At   reading.Instant  // of the newest message that was noted: one an hour is
	Like *fold.HeaterView // an unheard heater whose unit has nearly that name; nil: none
}

// More is how many are not named.
func (u unlistedUnits) More() int { return u.Total - len(u.Units) }

func (p *pages) unlisted(ctx context.Context, s *Stock) (unlistedUnits, error) {
	var out unlistedUnits
	all, err := p.o.Store.ListUnlisted(ctx, s.At.Add(-unlistedFor))
	if err != nil {
		return out, err
	}
	for _, u := range all {
		if s.fitted(u.Node) {
			continue // since listed
		}
		if out.Total++; len(out.Units) < unlistedShown {
			out.Units = append(out.Units, unlistedUnit{u.Node, u.At, s.unheardLike(u.Node)})
		}
	}
	return out, nil
}

// fitted reports whether a heater has the node, or would by the configuration.
func (s *Stock) fitted(node reading.NodeID) bool {
	return s.nodes[node] != nil || slices.ContainsFunc(s.Heaters, func(h fold.HeaterView) bool { return h.Configured == node })
}

// unheardLike gives the only heater that is not heard and whose unit is named
// nearly so; nil where there is none, or more than one.
func (s *Stock) unheardLike(node reading.NodeID) *fold.HeaterView {
	var names []string
	for i := range s.Heaters {
		if h := &s.Heaters[i]; h.Node != "" && (h.Heard == 0 || h.Silent) {
			names = append(names, string(h.Node))
		}
	}
	name := nearest.Word(string(node), names)
	others := slices.DeleteFunc(names, func(n string) bool { return n == name })
	if name == "" || nearest.Word(string(node), others) != "" {
		return nil
	}
	return s.nodes[reading.NodeID(name)]
}

// expected says under which topic a heater's unit is to publish; empty where
// the pages do not know.
func (p *pages) expected(h *fold.HeaterView) string {
	return strings.Join(p.o.Sources.Expected(h.Site, string(h.Node)), " or ")
}
