package history

import (
	"context"
	"time"

	"heaterd/ingest/reading"
)

// debt is what the log gave up before it was copied. It is copied out of the
// hours, from the first that can hold any of it.
type debt struct {
	Upto int64           `json:"upto"` // the last line given up
	Next reading.Instant `json:"next"` // no line after it arrived before this
	Hour reading.Instant `json:"hour"` // the next hour to copy
}

// copyHour copies the next hour of the debt. What was copied before as lines
// is written again, which changes nothing.
func (w *Writer) copyHour(ctx context.Context, gone int64) error {
	d, err := w.owed(ctx, gone)
	if err != nil {
		return err
	}
	w.update(func(s *state) { s.oldest = s.seen })
	var nodes []reading.NodeID
	next, more, err := w.o.Log.CompactedHour(ctx, d.Hour, func(id reading.NodeID, _ []reading.Sample) { nodes = append(nodes, id) })
	if err != nil {
		return err
	}
	if ok, err := w.copyNodes(ctx, nodes, d.Hour); !ok {
		return err
	}
	w.update(func(s *state) {
		if d.Hour = next; more {
			s.debt = &d
		} else {
			s.cursor, s.seen, s.debt = d.Upto, d.Next, nil
		}
	})
	w.dirty = true
	w.keepIfDue(ctx)
	return nil
}

// copyNodes copies an hour of each node; it gives false when ctx ends first.
// Nothing is read while the server is waited for.
func (w *Writer) copyNodes(ctx context.Context, nodes []reading.NodeID, hour reading.Instant) (ok bool, err error) {
	var waiting []entry
	for i, id := range nodes {
		head := w.places.heads(id)
		err := w.o.Log.Samples(ctx, id, hour, hour.Add(time.Hour), func(s reading.Sample) bool {
			if text := recordOf(head(s.At), s); text != "" {
				waiting = append(waiting, entry{text: text})
			}
			return true
		})
		if err != nil {
			return false, err
		}
		if len(waiting) < mostRecords && i < len(nodes)-1 {
			continue
		}
		if !w.send(ctx, waiting) {
			return false, nil
		}
		waiting = waiting[:0]
	}
	return true, nil
}

// owed gives the debt, which begins where the log has given up lines that are
// not copied.
func (w *Writer) owed(ctx context.Context, gone int64) (d debt, err error) {
	w.mu.Lock()
	known, seen := w.state.debt, w.state.seen
	w.mu.Unlock()
	if known != nil {
		return *known, nil
	}
	d.Upto, d.Next = gone, reading.InstantOf(time.Now())
	following, err := w.o.Log.Lines(ctx, gone, 1)
	if err != nil {
		return d, err
	}
	if len(following) > 0 {
		d.Next = following[0].At
	}
	from, _, err := w.o.Log.CompactedSpan(ctx)
	d.Hour = max(from, reading.InstantOf(seen.Add(-w.o.Backlog).Time().Truncate(time.Hour)))
	w.o.Logger.Info("the log has given up lines that were not copied; their hours are copied instead",
		"up_to_line", gone, "from", d.Hour)
	return d, err
}
