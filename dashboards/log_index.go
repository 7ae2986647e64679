package dashboards

import (
	"cmp"
	"context"
	"slices"
	"sync"

	"heaterd/alerts/ledger"
)

// logIndex knows of each line of the service log when it was done and at which
// heater, so that a page of the log reads its own lines only. The first who asks
// after a start waits until all were read; later only what is new is.
type logIndex struct {
	mu   sync.Mutex    // guards what follows
	last int64         // line up to which it has read
	all  []ledger.Done // by when, then line
	ids  map[string]string
}

// indexedAtOnce is how many lines are read together.
const indexedAtOnce = 5000

// find gives the lines of the service log that are wanted, newest first; a nil
// want stands for all.
func (x *logIndex) find(ctx context.Context, l *ledger.Ledger, want func(ledger.Done) bool) ([]int64, error) {
	x.mu.Lock()
	defer x.mu.Unlock()
	if err := x.follow(ctx, l); err != nil {
		return nil, err
	}
	lines := make([]int64, 0, len(x.all))
	for _, one := range slices.Backward(x.all) {
		if want == nil || want(one) {
			lines = append(lines, one.Line)
		}
	}
	return lines, nil
}

// follow takes in what was written down since the last time.
func (x *logIndex) follow(ctx context.Context, l *ledger.Ledger) error {
	for {
		rows, err := l.DoneAfter(ctx, x.last, indexedAtOnce)
		if err != nil {
			return err
		}
		for _, one := range rows {
			one.Heater = x.id(one.Heater)
			x.add(one)
			x.last = one.Line
		}
		if len(rows) < indexedAtOnce {
			return nil
		}
	}
}

// add puts a line in its place, which is near the end: work is written down
// soon after it was done.
func (x *logIndex) add(one ledger.Done) {
	i, _ := slices.BinarySearchFunc(x.all, one, func(a, b ledger.Done) int {
		return cmp.Or(cmp.Compare(a.When, b.When), cmp.Compare(a.Line, b.Line))
	})
	x.all = slices.Insert(x.all, i, one)
}

// id keeps one copy of each heater's id.
func (x *logIndex) id(heater string) string {
	if kept, ok := x.ids[heater]; ok {
		return kept
	}
	if x.ids == nil {
		x.ids = map[string]string{}
	}
	x.ids[heater] = heater
	return heater
}
