package ingest

import (
	"math"
	"time"
)

// pace lets a batch wait for more while messages come in a crowd. A commit
// costs the processor much the same for three messages as for a hundred, and
// takes it from the broker that has to bring the next; alone, a message never
// waits.
type pace struct {
	recent float64          // messages handed over, fading
	last   time.Time        // when it faded last
	begun  bool             // the batch in hand was asked about
	over   <-chan time.Time // when that has waited long enough; nil: it does not wait
}

// Figures of the pace (common practice, no source; measured by BenchmarkDurable).
const (
	paceMemory = 20 * time.Millisecond // time constant in which what came fades
	paceCrowd  = 200.0                 // messages in that time, 10,000 a second, are a crowd
	paceEnough = 400                   // so many wait no longer
	paceLimit  = 3 * time.Millisecond  // nor does the first of them
)

// waits reports whether a batch of n messages is to wait for more.
func (p *pace) waits(n int) bool {
	if n >= paceEnough {
		return false
	}
	if !p.begun {
		p.begun = true
		if p.fade(); p.recent >= paceCrowd {
			p.over = time.After(paceLimit)
		}
	}
	return p.over != nil
}

// handed notes that a batch of n messages went on its way.
func (p *pace) handed(n int) {
	p.fade()
	p.recent += float64(n)
	p.begun, p.over = false, nil
}

func (p *pace) fade() {
	now := time.Now()
	p.recent *= math.Exp(-now.Sub(p.last).Seconds() / paceMemory.Seconds())
	p.last = now
}
