package history

import (
	"context"
	"sync/atomic"
	"testing"
	"time"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// Where the units are is found out anew when a person fitted one, and now and
// then; one pack may be of two places.
func TestPlacesAreFoundAnew(t *testing.T) {
	var moved reading.Instant
	var asked atomic.Int32
	during(t, func(t *testing.T, w *Writer, b *bank, s *shelf) {
		s.add("n-1", time.Now())
		after(10 * time.Second)
		begin := asked.Load()
		s.put(record.Line{Entry: &record.Entry{Heater: "after", Task: "fit-node", Node: "n-1"}})
		after(10 * time.Second)
		if n := asked.Load() - begin; n != 1 {
			t.Errorf("asked %d times for a fitting", n)
		}
		s.add("n-1", moved.Time().Add(-time.Second), moved.Time(), moved.Time().Add(time.Second))
		after(10 * time.Second)
		if b.records() != 4 || b.with("heater=after") != 2 {
			t.Errorf("%d records, %d of the later heater; want 4 and 2", b.records(), b.with("heater=after"))
		}
		begin = asked.Load()
		after(2 * findEvery)
		if asked.Load() == begin {
			t.Error("never asked again")
		}
	}, func(w *Writer) {
		moved = reading.InstantOf(time.Now().Add(time.Hour))
		w.o.Places = func(context.Context) (Places, error) {
			asked.Add(1)
			return func(_ reading.NodeID, at reading.Instant) Place {
				if at < moved {
					return Place{Heater: "before"}
				}
				return Place{Heater: "after"}
			}, nil
		}
	})
}
