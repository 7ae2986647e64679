package alerts

import (
	"context"
	"fmt"
	"slices"
	"time"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// Archive is the store as a look back reads it.
type Archive interface {
	// Lines gives up to limit lines above id after, in order.
	Lines(ctx context.Context, after int64, limit int) ([]record.Line, error)
	// Samples calls f with a node's samples in order of time until it returns false.
	Samples(ctx context.Context, id reading.NodeID, from, to reading.Instant, f func(reading.Sample) bool) error
}

// Retell tells the readings of nodes from one instant to another again, each
// as if it had come the moment it was measured, and between them what people
// did. So a changed configuration can be tried on what has been.
func Retell(ctx context.Context, a Archive, nodes []reading.NodeID, from, to reading.Instant, tell func(record.Line)) error {
	people, err := peoplesLines(ctx, a, from, to)
	if err != nil {
		return fmt.Errorf("cannot read what people did: %w", err)
	}
	tell(record.Line{At: from})
	for at := from; at < to; at = at.Add(time.Hour) {
		end := min(at.Add(time.Hour), to)
		lines, err := hourOf(ctx, a, nodes, at, end)
		if err != nil {
			return fmt.Errorf("cannot read the hour from %s: %w", at, err)
		}
		for len(people) > 0 && people[0].At < end {
			lines = append(lines, people[0])
			people = people[1:]
		}
		slices.SortStableFunc(lines, func(x, y record.Line) int { return x.At.Time().Compare(y.At.Time()) })
		for _, l := range lines {
			tell(l)
		}
	}
	tell(record.Line{At: to})
	return nil
}

func hourOf(ctx context.Context, a Archive, nodes []reading.NodeID, from, to reading.Instant) (lines []record.Line, err error) {
	for _, n := range nodes {
		err := a.Samples(ctx, n, from, to, func(x reading.Sample) bool {
			lines = append(lines, record.Line{At: x.At, Pack: &reading.Pack{Node: n, Samples: []reading.Sample{x}}})
			return true
		})
		if err != nil {
			return nil, err
		}
	}
	return lines, ctx.Err()
}

// peoplesLines gives the lines of people from one instant to another, after
// the planned stops that were written down before and are not over.
func peoplesLines(ctx context.Context, a Archive, from, to reading.Instant) (all []record.Line, err error) {
	var stops []record.Line
	for after := int64(0); ; {
		lines, err := a.Lines(ctx, after, linesAtOnce)
		if err != nil || len(lines) == 0 {
			return append(stops, all...), err
		}
		for _, l := range lines {
			after = l.ID
			if l.Stop != nil && l.At < from {
				stops = carry(stops, l, from)
			}
			if (l.Entry != nil || l.Withdraw != nil || l.Stop != nil) && l.At >= from && l.At < to {
				all = append(all, l)
			}
		}
	}
}

// carry adds a planned stop that was written down before an instant as if it
// had been then, or takes out what the heater is wanted on again for.
func carry(stops []record.Line, l record.Line, to reading.Instant) []record.Line {
	if l.Stop.End {
		return slices.DeleteFunc(stops, func(s record.Line) bool { return s.Stop.Heater == l.Stop.Heater })
	}
	s, from := *l.Stop, l.Stop.Begins(l.At)
	ends := from.Add(s.For)
	if s.Check(l.At) != nil || ends <= to {
		return stops
	}
	s.From = max(from, to.Add(-record.WrittenWithin))
	s.For = ends.Sub(s.From)
	return append(stops, record.Line{At: to, Stop: &s})
}
