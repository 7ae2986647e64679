package ingest

import (
	"testing"
	"testing/synctest"
	"time"
)

// A message that comes alone never waits, however many came a moment before
// the one before it.
func TestALoneMessageDoesNotWait(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var p pace
		for range 1000 {
			if p.waits(1) {
				t.Fatal("at a thousand messages a second, one was kept waiting")
			}
			p.handed(1)
			time.Sleep(time.Millisecond)
		}
		p.handed(5000)
		time.Sleep(time.Second)
		if p.waits(1) {
			t.Error("a crowd of a second ago made one message wait")
		}
	})
}

// In a crowd a batch waits for more: until there are enough, or for as long as
// one may wait.
func TestABatchWaitsInACrowd(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var p pace
		p.handed(1000)
		if !p.waits(3) || p.waits(paceEnough) {
			t.Fatalf("of 3: %v, of %d: %v; want the first to wait only", p.waits(3), paceEnough, p.waits(paceEnough))
		}
		begun := time.Now()
		<-p.over
		p.over = nil
		if p.waits(3) || time.Since(begun) != paceLimit {
			t.Errorf("waits on after %s", time.Since(begun))
		}
		if p.handed(3); !p.waits(3) {
			t.Error("the next batch of the crowd does not wait")
		}
	})
}
