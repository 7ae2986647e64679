package history

import (
	"context"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// live runs a writer in the bubble for a time, then stops it.
func live(t *testing.T, w *Writer, d time.Duration) {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan error)
	go func() { done <- w.Run(ctx) }()
	after(d)
	stop()
	if err := <-done; err != nil {
		t.Error(err)
	}
}

// TestLinesGivenUpAreCopiedByTheHour leaves the server away until the log has
// given up all but the last lines, those of a second node among them that
// came a day after they were measured.
func TestLinesGivenUpAreCopiedByTheHour(t *testing.T) {
	during(t, func(t *testing.T, w *Writer, b *bank, s *shelf) {
		s.add("n-1", time.Now())
		after(time.Minute)
		b.set(always(errAway))
		const minutes = 3 * 24 * 60
		for range minutes {
			s.add("n-1", time.Now())
			s.add("n-2", time.Now().Add(-24*time.Hour))
			after(time.Minute)
		}
		s.compact(2*minutes - 100)
		b.set(nil)
		after(10 * time.Minute)
		if b.records() != 1+2*minutes {
			t.Errorf("%d records arrived, want %d", b.records(), 1+2*minutes)
		}
		if st := w.Stats(); st.LagRows != 0 || !st.Up || st.Oldest != 0 {
			t.Errorf("when all is copied: %+v", st)
		}
	})
}

// TestGivenUpTwice gives up more lines while the hours are copied, of an hour
// that is copied already.
func TestGivenUpTwice(t *testing.T) {
	during(t, func(t *testing.T, w *Writer, b *bank, s *shelf) {
		b.set(always(errAway))
		begun := time.Now()
		for range 300 {
			s.add("n-1", time.Now())
			after(time.Minute)
		}
		s.compact(200)
		calls := 0
		b.set(func([]string) error {
			if calls++; calls == 3 {
				s.add("n-2", begun)
				s.compact(301)
			}
			return nil
		})
		after(10 * time.Minute)
		if b.records() != 301 || w.Cursor() != 301 {
			t.Errorf("%d records, cursor %d", b.records(), w.Cursor())
		}
	})
}

// TestAStopBetweenHoursGoesOnThere stops the writer again and again while it
// copies a season by the hour.
func TestAStopBetweenHoursGoesOnThere(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, s := &bank{}, &shelf{}
		const hours = 90 * 24
		for range hours {
			s.add("n-1", time.Now())
			after(time.Hour)
		}
		s.compact(hours)
		written := 0
		b.set(func([]string) error {
			if written++; written%400 == 0 {
				return errAway
			}
			return nil
		})
		lives := 0
		for ; s.cursor < hours && lives < 20; lives++ {
			live(t, writerTo(b, s), 200*time.Millisecond)
		}
		if b.records() != hours || s.cursor != hours {
			t.Errorf("%d records, cursor %d", b.records(), s.cursor)
		}
		if lives < 4 || written > hours+10 {
			t.Errorf("%d lives and %d writes for %d hours", lives, written, hours)
		}
	})
}

// TestOnlyHoursThatCanMissAnythingAreCopied counts what is written twice.
func TestOnlyHoursThatCanMissAnythingAreCopied(t *testing.T) {
	during(t, func(t *testing.T, w *Writer, b *bank, s *shelf) {
		for range 30 * 24 {
			s.add("n-1", time.Now())
			after(time.Hour)
		}
		b.set(always(errAway))
		s.add("n-1", time.Now())
		after(time.Minute)
		s.compact(30*24 + 1)
		tried := len(b.tries())
		b.set(nil)
		after(10 * time.Minute)
		if n := len(b.tries()) - tried; b.records() != 30*24+1 || n > 7*24+5 {
			t.Errorf("%d records, %d writes for a week", b.records(), n)
		}
		if w.Cursor() != 30*24+1 {
			t.Errorf("cursor %d", w.Cursor())
		}
	})
}

func TestPoisonOutOfAnHourIsSetAside(t *testing.T) {
	during(t, func(t *testing.T, w *Writer, b *bank, s *shelf) {
		b.set(always(errAway))
		for _, node := range []reading.NodeID{"n-1", "n-bad", "n-2"} {
			s.add(node, time.Now())
		}
		s.put(record.Line{Pack: &reading.Pack{Node: "n-3", Samples: []reading.Sample{{At: reading.InstantOf(time.Now())}}}})
		s.compact(4)
		b.set(poisoned(400, "n-bad"))
		after(10 * time.Minute)
		aside := setAside(w)
		if b.records() != 2 || len(aside) != 1 || aside[0].Line != 0 || !strings.Contains(aside[0].Record, "n-bad") {
			t.Errorf("%d records, set aside %+v", b.records(), aside)
		}
	})
}
