package ingest

import (
	"golang.org/x/time/rate"

	"heaterd/ingest/reading"
)

// budgets holds each node's allowance.
type budgets struct {
	budget Budget
	nodes  map[reading.NodeID]*allowance
}

type allowance struct {
	tokens *rate.Limiter
	noted  reading.Instant // when a refusal was last written down
}

func newBudgets(b Budget) *budgets {
	return &budgets{budget: b, nodes: map[reading.NodeID]*allowance{}}
}

// spend takes one message of the node's budget; where none is left, note says
// whether it is time to write that down.
func (b *budgets) spend(id reading.NodeID, at reading.Instant) (ok, note bool) {
	a := b.nodes[id]
	if a == nil {
		if len(b.nodes) >= budgetedNodes { // invented names: start over rather than grow
			clear(b.nodes)
		}
		a = &allowance{tokens: rate.NewLimiter(rate.Limit(b.budget.PerSecond), b.budget.Burst), noted: at.Add(-2 * budgetNotice)}
		b.nodes[id] = a
	}
	if a.tokens.AllowN(at.Time(), 1) {
		return true, false
	}
	if at.Sub(a.noted).Abs() < budgetNotice {
		return false, false
	}
	a.noted = at
	return false, true
}
