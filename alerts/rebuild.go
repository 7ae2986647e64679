package alerts

import (
	"context"
	"slices"
	"time"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// Past is what is left of the lines that the log no longer holds.
type Past interface {
	// Compacted gives the last line whose readings are kept by the hour only.
	Compacted(ctx context.Context) (line int64, err error)
	// Begun gives when the first line of all arrived.
	Begun(ctx context.Context) (reading.Instant, error)
	// CompactedSpan gives the time that has such readings; equal ends: none.
	CompactedSpan(ctx context.Context) (from, to reading.Instant, err error)
	// CompactedHour calls f with those of each node measured in the hour an
	// instant lies in, and gives the next hour that has any.
	CompactedHour(ctx context.Context, at reading.Instant, f func(reading.NodeID, []reading.Sample)) (
		next reading.Instant, ok bool, err error)
}

// past replays the compacted part of the log to an engine.
type past struct {
	*Watch
	lines []record.Line   // what people did and nodes said of themselves, not yet folded
	after int64           // the last of them read
	upto  int64           // the last line that is compacted
	until reading.Instant // when it arrived, or a little later
}

// rebuild folds what the log no longer holds line by line: hour by hour, each
// node's readings of the hour as one pack that came with its last reading,
// and what people did at its time. When readings really came is not kept any
// more, so burns and hours are those of an undisturbed fold within their
// bounds, and what follows from delivery, such as silences, is not. Nothing
// found is told: the ledger has told it.
func (w *Watch) rebuild(ctx context.Context) error {
	upto, err := w.o.Log.Compacted(ctx)
	if err != nil || upto == 0 {
		return err
	}
	start := time.Now()
	p := &past{Watch: w, upto: upto}
	if err := p.replay(ctx); err != nil {
		return err
	}
	w.reach(upto)
	w.o.Logger.Warn("the engine's memory was rebuilt from the readings kept by the hour",
		"lines", upto, "took", time.Since(start).Round(time.Millisecond))
	return nil
}

func (p *past) replay(ctx context.Context) error {
	if err := p.findEnd(ctx); err != nil {
		return err
	}
	begun, err := p.o.Log.Begun(ctx)
	if err != nil {
		return err
	}
	p.relive(record.Line{At: begun}) // the record begins here, whatever was measured before
	hour, to, err := p.o.Log.CompactedSpan(ctx)
	if err == nil && hour < to && begun < hour.Add(-time.Hour) {
		p.o.Logger.Warn("readings from the beginning of the record are no longer kept: compare the hours with the heaters' meters",
			"begun", begun, "kept from", hour)
	}
	for more := hour < to; more && err == nil; {
		hour, more, err = p.hour(ctx, hour)
	}
	if err != nil {
		return err
	}
	return p.people(ctx, noEnd)
}

// noEnd is later than any line.
const noEnd = reading.Instant(1<<63 - 1)

// findEnd finds when the last compacted line arrived: no later than the line
// that follows it.
func (p *past) findEnd(ctx context.Context) error {
	next, err := p.o.Log.Lines(ctx, p.upto, 1)
	p.until = noEnd
	if len(next) > 0 {
		p.until = next[0].At
	}
	return err
}

// hour folds the hour that begins at an instant.
func (p *past) hour(ctx context.Context, at reading.Instant) (next reading.Instant, more bool, err error) {
	p.turned()
	var packs []record.Line
	next, more, err = p.o.Log.CompactedHour(ctx, at, func(id reading.NodeID, all []reading.Sample) {
		if len(all) == 0 {
			return
		}
		came := min(all[len(all)-1].At, p.until) // a clock ahead has no later arrival
		packs = append(packs, record.Line{At: came, Pack: &reading.Pack{Node: id, Samples: slices.Clone(all)}})
	})
	if err != nil {
		return 0, false, err
	}
	slices.SortStableFunc(packs, func(a, b record.Line) int { return int(min(1, max(-1, a.At-b.At))) })
	for _, l := range packs {
		if err := p.people(ctx, l.At); err != nil {
			return 0, false, err
		}
		p.relive(l)
	}
	return next, more, nil
}

// people folds the lines still in the log that came up to an instant.
func (p *past) people(ctx context.Context, to reading.Instant) error {
	for {
		if len(p.lines) == 0 {
			if err := p.read(ctx); err != nil || len(p.lines) == 0 {
				return err
			}
		}
		if p.lines[0].At > to {
			return nil
		}
		p.relive(p.lines[0])
		p.lines = p.lines[1:]
	}
}

func (p *past) read(ctx context.Context) (err error) {
	if p.after >= p.upto {
		return nil
	}
	p.lines, err = p.o.Log.Lines(ctx, p.after, linesAtOnce)
	if err != nil {
		return err
	}
	n := len(p.lines)
	for n > 0 && p.lines[n-1].ID > p.upto {
		n--
	}
	if n < len(p.lines) || n == 0 {
		p.after = p.upto
	} else {
		p.after = p.lines[n-1].ID
	}
	p.lines = p.lines[:n]
	return nil
}

// relive folds a line and forgets what it led to; answers to alarms that are
// not the ledger's own may well fail.
func (p *past) relive(l record.Line) {
	defer func() {
		if fault := recover(); fault != nil {
			p.faults.Add(1)
			p.o.Logger.Error("a rule failed on what was kept; its meaning is lost", "at", l.At, "fault", fault)
		}
	}()
	p.o.Engine.Step(l)
}
