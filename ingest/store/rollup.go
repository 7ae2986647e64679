package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"

	"heaterd/ingest/reading"
)

// Step is what a node measured in one step of a chart.
type Step struct {
	At      reading.Instant // start of the step
	Samples int             // 0: nothing was measured
	CO      Span            // ppm
	Temp    Span            // °C
	Lit     float64         // s the flame was seen, as samples show it: for charts, not run-hours
	Seen    float64         // s for which samples tell whether it was
}

// Span is the range of one quantity in a step; the mean is over samples.
type Span struct {
	N              int // samples; 0: the rest means nothing
	Min, Mean, Max float64
}

// holdLimit is how long a sample speaks for the flame when no next one
// follows: above it the node counts as silent. Common practice, no source.
const holdLimit = 15 * time.Minute

// maxSteps bounds an answer; no chart shows more.
const maxSteps = 20_000

// errStep is returned for a step under a second or too small for the time.
var errStep = errors.New("the step does not suit the time")

// Rollup gives the steps from from to to, empty ones included. A step of whole
// hours is read from the hours' figures, and from and to are widened to whole
// hours; any other step is worked out from every sample.
func (s *Store) Rollup(ctx context.Context, id reading.NodeID, from, to reading.Instant, step time.Duration) ([]Step, error) {
	whole := step > 0 && step%time.Hour == 0
	if whole {
		from, to = startOf(hourOf(from)), startOf(hourOf(to-1)+1)
	}
	if step < time.Second || to < from || int64(to-from)/step.Microseconds() > maxSteps {
		return nil, fmt.Errorf("cannot roll up %s from %s to %s: %w", step, from, to, errStep)
	}
	sums := make([]totals, int((to.Sub(from)+step-1)/step))
	n, ok, err := s.findNode(ctx, id)
	if err == nil && ok {
		g := grid{from: from, to: to, step: step, sums: sums}
		if whole {
			err = s.sumHours(ctx, id, n, g)
		} else {
			err = s.groups(ctx, id, from, to, step, g.add)
		}
	}
	if err != nil {
		return nil, wrap("roll up", err)
	}
	steps := make([]Step, len(sums))
	for i, t := range sums {
		steps[i] = t.step(from.Add(time.Duration(i) * step))
	}
	return steps, nil
}

// grid is the steps of an answer while they are summed.
type grid struct {
	from, to reading.Instant
	step     time.Duration
	sums     []totals
}

// add puts the totals of a time within one step where they belong.
func (g grid) add(at reading.Instant, t totals) {
	if i := int(at.Sub(g.from) / g.step); at >= g.from && i < len(g.sums) {
		g.sums[i] = g.sums[i].plus(t)
	}
}

// sumHours takes hours from their table, but those that have packs in the log
// from samples. The log is looked at first: Compact moves from there to here.
func (s *Store) sumHours(ctx context.Context, id reading.NodeID, n node, g grid) error {
	fresh, err := s.freshHours(ctx, n, g.from, g.to)
	if err != nil {
		return err
	}
	if err := s.sumTable(ctx, n, g, fresh); err != nil {
		return err
	}
	for _, run := range runsOf(fresh) {
		from, to := startOf(run[0]), startOf(run[1]+1) // g is of whole hours
		if err := s.groups(ctx, id, from, to, time.Hour, g.add); err != nil {
			return err
		}
	}
	return nil
}

// groups calls f with the totals of each span of the width, counted from from,
// that has samples.
func (s *Store) groups(ctx context.Context, id reading.NodeID, from, to reading.Instant, width time.Duration,
	f func(reading.Instant, totals)) error {
	var group []reading.Sample
	current := int64(-1)
	flush := func() {
		if len(group) > 0 {
			f(group[0].At, totalOf(group))
		}
		group = group[:0]
	}
	err := s.Samples(ctx, id, from, to, func(sample reading.Sample) bool {
		if g := int64(sample.At.Sub(from) / width); g != current {
			flush()
			current = g
		}
		group = append(group, sample)
		return true
	})
	flush()
	return err
}

// freshHours lists the hours that packs in the log reach into, ascending.
func (s *Store) freshHours(ctx context.Context, n node, from, to reading.Instant) ([]int64, error) {
	set := map[int64]bool{}
	err := each(ctx, s.reader, func(rows *sql.Rows) error {
		var first, last int64
		if err := rows.Scan(&first, &last); err != nil {
			return err
		}
		for h := hourOf(max(from, reading.Instant(first))); h <= hourOf(min(to-1, reading.Instant(last))); h++ {
			set[h] = true
		}
		return nil
	}, `SELECT first_at, last_at FROM log
		WHERE kind = 1 AND node = $1 AND last_at BETWEEN $2 AND $3 AND first_at < $4`,
		n.id, int64(from), int64(to)+n.span, int64(to))
	return slices.Sorted(maps.Keys(set)), err
}

// runsOf joins neighbouring hours into pairs of first and last.
func runsOf(hours []int64) (runs [][2]int64) {
	for _, h := range hours {
		if n := len(runs); n > 0 && runs[n-1][1] == h-1 {
			runs[n-1][1] = h
			continue
		}
		runs = append(runs, [2]int64{h, h})
	}
	return runs
}

func (s *Store) sumTable(ctx context.Context, n node, g grid, skip []int64) error {
	return each(ctx, s.reader, func(rows *sql.Rows) error {
		var hour int64
		var t totals
		if err := rows.Scan(&hour, &t.samples, &t.seen, &t.lit, &t.co.n, &t.co.min, &t.co.sum, &t.co.max,
			&t.temp.n, &t.temp.min, &t.temp.sum, &t.temp.max); err != nil {
			return err
		}
		if _, fresh := slices.BinarySearch(skip, hour); !fresh {
			g.add(startOf(hour), t)
		}
		return nil
	}, `SELECT hour, samples, seen_s, lit_s, co_n, co_min, co_sum, co_max,
		temp_n, temp_min, temp_sum, temp_max FROM hour WHERE node = $1 AND hour BETWEEN $2 AND $3`,
		n.id, hourOf(g.from), hourOf(g.to-1))
}
