package history

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// during runs a writer in a bubble of its own time while story is told;
// with changes it before.
func during(t *testing.T, story func(t *testing.T, w *Writer, b *bank, s *shelf), with ...func(*Writer)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		b, s := &bank{}, &shelf{}
		w := writerTo(b, s)
		for _, change := range with {
			change(w)
		}
		ctx, stop := context.WithCancel(t.Context())
		done := make(chan error)
		go func() { done <- w.Run(ctx) }()
		story(t, w, b, s)
		stop()
		if err := <-done; err != nil {
			t.Error(err)
		}
	})
}

// after lets the bubble's time pass.
func after(d time.Duration) {
	<-time.After(d)
	synctest.Wait()
}

func TestADayWithoutTheServerLosesNothing(t *testing.T) {
	during(t, func(t *testing.T, w *Writer, b *bank, s *shelf) {
		b.set(always(errAway))
		const perNode = 24 * 60
		for i := range perNode {
			for _, node := range []reading.NodeID{"n-1", "n-2", "n-3"} {
				s.add(node, time.Now())
			}
			_ = i
			after(time.Minute)
		}
		if st := w.Stats(); st.Up || st.LagRows != 3*perNode || st.Oldest < 23*time.Hour {
			t.Errorf("while away: %+v", st)
		}
		if len(b.tries()) > perNode*3 {
			t.Errorf("%d tries in a day", len(b.tries()))
		}
		b.set(nil)
		after(5 * time.Minute)
		if b.records() != 3*perNode {
			t.Errorf("%d records arrived, want %d", b.records(), 3*perNode)
		}
		if st := w.Stats(); !st.Up || st.LagRows != 0 || st.Oldest != 0 || st.Rejected != 0 {
			t.Errorf("when back: %+v", st)
		}
	})
}

func TestTriesComeLaterAndLater(t *testing.T) {
	during(t, func(t *testing.T, _ *Writer, b *bank, s *shelf) {
		b.set(always(status(503)))
		s.add("n-1", time.Now())
		after(10 * time.Minute)
		for i := 1; i < len(b.tries()); i++ {
			most := min(firstRetry<<(i-1), lastRetry)
			if gap := b.tries()[i].Sub(b.tries()[i-1]); gap < most/2 || gap > most {
				t.Errorf("try %d came after %v, want %v to %v", i+1, gap, most/2, most)
			}
		}
		if len(b.tries()) < 12 {
			t.Errorf("%d tries in ten minutes", len(b.tries()))
		}
	})
}

func TestRetryAfterIsHonoured(t *testing.T) {
	for _, header := range []string{"300", "date"} {
		during(t, func(t *testing.T, _ *Writer, b *bank, s *shelf) {
			if header == "date" {
				header = time.Now().Add(300 * time.Second).UTC().Format("Mon, 02 Jan 2006 15:04:05 GMT")
			}
			b.set(always(status(429, "Retry-After", header)))
			s.add("n-1", time.Now())
			after(299 * time.Second)
			early := len(b.tries())
			after(6 * time.Second)
			if early != 1 || len(b.tries()) < 2 {
				t.Errorf("tried at %v", b.tries())
			}
		})
	}
}

func TestTooLargeIsHalved(t *testing.T) {
	during(t, func(t *testing.T, w *Writer, b *bank, s *shelf) {
		b.set(func(batch []string) error {
			if len(batch) > 100 {
				return status(413)
			}
			return nil
		})
		for i := range 1000 {
			s.add(reading.NodeID(fmt.Sprint("n-", i)), time.Now())
		}
		after(time.Minute)
		if b.records() != 1000 || w.Stats().Rejected != 0 {
			t.Errorf("%d records arrived", b.records())
		}
		if len(b.tries()) > 60 {
			t.Errorf("%d writes of sizes %v", len(b.tries()), b.sizes)
		}
	})
}

func TestPoisonIsSetAsideAlone(t *testing.T) {
	for _, code := range []int{400, 422} {
		during(t, func(t *testing.T, w *Writer, b *bank, s *shelf) {
			b.set(poisoned(code, "n-bad"))
			for i := range 500 {
				node := reading.NodeID(fmt.Sprint("n-", i))
				if i == 77 || i == 78 || i == 400 {
					node = reading.NodeID(fmt.Sprint("n-bad-", i))
				}
				s.add(node, time.Now())
			}
			after(time.Minute)
			aside := setAside(w)
			if b.records() != 497 || len(aside) != 3 || w.Stats().Rejected != 3 {
				t.Fatalf("%d records arrived, set aside %+v", b.records(), aside)
			}
			if aside[0].Line != 78 || !strings.Contains(aside[0].Record, "n-bad-77") || aside[0].Reason == "" {
				t.Errorf("set aside %+v", aside[0])
			}
			if w.Cursor() != 500 || w.Healthy() != nil {
				t.Errorf("cursor %d, %v", w.Cursor(), w.Healthy())
			}
		})
	}
}

func TestAWrongSetUpIsToldAndTriedSlowly(t *testing.T) {
	for _, code := range []int{401, 403, 404, 301} {
		during(t, func(t *testing.T, w *Writer, b *bank, s *shelf) {
			b.set(always(status(code)))
			s.add("n-1", time.Now())
			after(10 * time.Minute)
			if w.Healthy() == nil || w.Cursor() != 0 || b.records() != 0 {
				t.Errorf("%d: healthy %v, cursor %d", code, w.Healthy(), w.Cursor())
			}
			if len(b.tries()) < 9 || len(b.tries()) > 21 {
				t.Errorf("%d: %d tries in ten minutes", code, len(b.tries()))
			}
			b.set(always(status(503)))
			after(2 * time.Minute)
			if w.Healthy() != nil {
				t.Errorf("%d: a server in trouble is taken for a wrong set-up: %v", code, w.Healthy())
			}
			b.set(nil)
			after(2 * time.Minute)
			if w.Healthy() != nil || b.records() != 1 {
				t.Errorf("%d: not taken up again: %v", code, w.Healthy())
			}
		})
	}
}

func TestACrashWritesTwiceAndLosesNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, s := &bank{}, &shelf{}
		for i := range 3000 {
			s.add(reading.NodeID(fmt.Sprint("n-", i)), time.Now())
		}
		for range 5 { // each life ends without a word
			w := writerTo(b, &shelf{lines: s.lines, cursor: s.cursor, body: s.body})
			ctx, stop := context.WithCancel(t.Context())
			w.o.Memory = lossy{s}
			go func() { _ = w.Run(ctx) }()
			after(3 * time.Second)
			stop()
			synctest.Wait()
		}
		w := writerTo(b, s)
		ctx, stop := context.WithCancel(t.Context())
		done := make(chan error)
		go func() { done <- w.Run(ctx) }()
		after(time.Minute)
		stop()
		if err := <-done; err != nil || b.records() != 3000 || s.cursor != 3000 {
			t.Errorf("%v, %d records, cursor %d", err, b.records(), s.cursor)
		}
	})
}

// lossy forgets what it should keep, as a crash before the commit does.
type lossy struct{ *shelf }

func (lossy) SaveSnapshot(context.Context, string, int64, []byte) error {
	return errors.New("the power is gone")
}

func TestTheCursorIsKeptSeldomAndAtTheEnd(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, s := &bank{}, &shelf{}
		w := writerTo(b, s)
		ctx, stop := context.WithCancel(t.Context())
		done := make(chan error)
		go func() { done <- w.Run(ctx) }()
		for range 600 {
			s.add("n-1", time.Now())
			after(time.Second)
		}
		if s.kept > 61 || s.kept < 50 {
			t.Errorf("kept %d times in ten minutes", s.kept)
		}
		stop()
		<-done
		if s.cursor != w.Cursor() {
			t.Errorf("kept %d, is at %d", s.cursor, w.Cursor())
		}
	})
}

func TestWhatWasSetAsideIsRemembered(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, s := &bank{answer: poisoned(400, "n-bad")}, &shelf{}
		s.add("n-bad", time.Now())
		for range 2 {
			w := writerTo(b, s)
			ctx, stop := context.WithCancel(t.Context())
			done := make(chan error)
			go func() { done <- w.Run(ctx) }()
			after(time.Minute)
			if got := setAside(w); len(got) != 1 || w.Stats().Rejected != 1 {
				t.Errorf("set aside %+v", got)
			}
			stop()
			<-done
		}
	})
}

// TestTroubleIsToldOnceAnHour goes without the server for some hours; each
// failure reads differently, as addresses and ports do.
func TestTroubleIsToldOnceAnHour(t *testing.T) {
	during(t, func(t *testing.T, w *Writer, b *bank, s *shelf) {
		var said strings.Builder
		w.o.Logger = slog.New(slog.NewTextHandler(&said, nil))
		n := 0
		b.set(func([]string) error { n++; return fmt.Errorf("read from port %d: connection refused", n) })
		s.add("n-1", time.Now())
		after(150 * time.Minute)
		if got := strings.Count(said.String(), "the copy of the readings waits"); got != 3 {
			t.Errorf("told %d times in two and a half hours of %d failures, want 3:\n%s", got, n, said.String())
		}
		b.set(nil)
		after(5 * time.Minute)
		s.add("n-1", time.Now())
		after(5 * time.Minute)
		if got := strings.Count(said.String(), "the copy of the readings goes on"); got != 1 {
			t.Errorf("told %d times that it works again, want 1:\n%s", got, said.String())
		}
		b.set(always(errAway))
		s.add("n-1", time.Now())
		after(time.Minute)
		if got := strings.Count(said.String(), "the copy of the readings waits"); got != 4 {
			t.Errorf("new trouble is not told at once:\n%s", said.String())
		}
	})
}

func TestALogThatCannotBeReadIsTriedAgain(t *testing.T) {
	during(t, func(t *testing.T, w *Writer, b *bank, s *shelf) {
		s.fail(errors.New("disk full"))
		s.add("n-1", time.Now())
		after(time.Minute)
		s.fail(nil)
		after(time.Minute)
		if b.records() != 1 {
			t.Error("not taken up again")
		}
	})
}

func TestLinesThatAreNoReadingsArePassedOver(t *testing.T) {
	during(t, func(t *testing.T, w *Writer, b *bank, s *shelf) {
		s.put(record.Line{})
		s.put(record.Line{Status: &record.Status{Node: "n-1", Online: true}})
		s.put(record.Line{Retained: true, Pack: &reading.Pack{Node: "n-1", Samples: []reading.Sample{{Has: reading.CO}}}})
		s.put(record.Line{Pack: &reading.Pack{Node: "n-1"}})
		after(time.Minute)
		if len(b.tries()) != 0 || w.Cursor() != 4 {
			t.Errorf("%d writes, cursor %d", len(b.tries()), w.Cursor())
		}
	})
}

func TestMemoryIsBoundedByABatch(t *testing.T) {
	during(t, func(t *testing.T, _ *Writer, b *bank, s *shelf) {
		times := make([]time.Time, 4000)
		for i := range times {
			times[i] = time.Now().Add(time.Duration(i) * time.Second)
		}
		for range 20 {
			s.add("n-1", times...)
		}
		after(time.Minute)
		for _, n := range b.sizes {
			if n > mostRecords {
				t.Errorf("a write of %d records", n)
			}
		}
		if b.records() != 4000 {
			t.Errorf("%d records", b.records())
		}
	})
}

func TestAStopWhileTheServerIsAwayLosesNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, s := &bank{answer: always(errAway)}, &shelf{}
		s.add("n-1", time.Now())
		w := writerTo(b, s)
		ctx, stop := context.WithCancel(t.Context())
		done := make(chan error)
		go func() { done <- w.Run(ctx) }()
		after(time.Minute)
		stop()
		if err := <-done; err != nil || w.Cursor() != 0 || s.cursor != 0 {
			t.Errorf("%v, cursor %d, kept %d", err, w.Cursor(), s.cursor)
		}
	})
}

func TestPatienceBeginsAnewAfterASuccess(t *testing.T) {
	during(t, func(t *testing.T, _ *Writer, b *bank, s *shelf) {
		const good = 8 // the write that is taken
		b.set(func([]string) error {
			if n := len(b.tried); n == good || n > good+1 {
				return nil
			}
			return status(503)
		})
		times := make([]time.Time, mostRecords+1) // two writes
		for i := range times {
			times[i] = time.Now().Add(time.Duration(i) * time.Second)
		}
		s.add("n-1", times...)
		after(10 * time.Minute)
		if len(b.tries()) != good+2 || b.tries()[good+1].Sub(b.tries()[good]) > firstRetry {
			t.Errorf("tried at %v", b.tries())
		}
	})
}
