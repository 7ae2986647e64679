package dashboards

import (
	"cmp"
	"context"
	"slices"

	"heaterd/alerts/fold"
	"heaterd/alerts/ledger"
	"heaterd/ingest/reading"
)

// Whereabouts tell on which heater each node was, and where that stood, at any
// time. What a node measured belongs to where it was then.
type Whereabouts map[reading.NodeID][]sojourn

// sojourn is the time that a node was on one heater in one place.
type sojourn struct {
	stay
	heater string
	place  ledger.Place
}

// FindWhereabouts reads where the nodes of a fleet were, from what people and
// the configuration said.
func FindWhereabouts(ctx context.Context, l *ledger.Ledger, v fold.View) (Whereabouts, error) {
	stands, err := l.Stands(ctx, "")
	if err != nil {
		return nil, err
	}
	log, err := l.Fittings(ctx)
	if err != nil {
		return nil, err
	}
	return whereabouts(newStock(v).courses(stands, ""), log), nil
}

func whereabouts(courses []course, log []ledger.EntryRow) Whereabouts {
	w, fitted := Whereabouts{}, indexFittings(log)
	for _, c := range courses {
		own := fitted.of(c)
		for i, s := range c.stands {
			for _, one := range c.stays(i, own) {
				w[one.Node] = append(w[one.Node], sojourn{one, c.heater, s.Place})
			}
		}
	}
	for _, all := range w {
		slices.SortStableFunc(all, func(a, b sojourn) int { return cmp.Compare(a.From, b.From) })
	}
	return w
}

// At gives the heater that a node was on at an instant, and its place; empty
// where it was on none. Where nobody wrote down where it was, it was where it
// came next, as the engine has it.
func (w Whereabouts) At(node reading.NodeID, at reading.Instant) (heater string, place ledger.Place) {
	all := w[node]
	after, _ := slices.BinarySearchFunc(all, at, func(s sojourn, at reading.Instant) int {
		if s.From <= at {
			return -1
		}
		return 1
	})
	for _, s := range slices.Backward(all[:after]) {
		if at < s.To {
			return s.heater, s.place
		}
	}
	if after < len(all) {
		return all[after].heater, all[after].place
	}
	return "", ledger.Place{}
}
