package trust

import (
	"math/bits"
	"time"

	"heaterd/ingest/reading"
)

// When a CO sensor that stands still is told by the burns it should follow.
// Common practice, no source, except where one is named.
const (
	followPPM   = 3.0 // ppm that it rises in a burn it follows (NIOSH 6604: detects 1 ppm, ±6 %; secondary text)
	followSteps = 3.0 // and steps of the smallest change it ever told
	followed    = 7   // of the last 8 burns in which it moved at all
	deafBurns   = 4   // burns with the times out after them through which it stands still then
	deafLit     = 0.5 // × the usual length of the burns it follows: those burns are no shorter on average
	deafPPM     = 2.0 // ppm above what it usually falls to: any burn may end at fresh air, and stay there once a door is open
	followShare = 8   // burns over which what is usual is learned
)

// follow is how a CO sensor goes with the burns of the heater it is on. The zero
// value has seen none.
type follow struct {
	Lit   reading.Instant // when the newest burn began; 0: none was seen to begin
	Out   reading.Instant // newest reading of it with a flame
	Base  float32         // ppm, what it read then
	Top   float32         // ppm, the most since then
	Step  float32         // ppm, the smallest change ever told; 0: none yet
	Low   float32         // ppm, what it usually falls to
	Usual time.Duration   // length of a burn that it follows
	Rose  uint8           // bit i: it rose with the i-th last of the burns in which it moved
	Burns uint8           // burns in a row through which it stood still
	Still time.Duration   // what those took
}

// note takes a reading, how far it is from the one before, and since when the
// value stands.
func (f *follow) note(at reading.Instant, ppm, step float32, since reading.Instant, lit, lights bool) {
	if step > 0 && (f.Step == 0 || step < f.Step) {
		f.Step = step
	}
	if lights {
		f.cycle(since)
		f.Lit, f.Base, f.Top = at, ppm, ppm
	}
	if step > 0 {
		f.Burns, f.Still = 0, 0
	}
	if lit {
		f.Out = at
	}
	f.Top = max(f.Top, ppm)
}

// cycle books the burn that began last, and the time out after it.
func (f *follow) cycle(since reading.Instant) {
	if f.Lit == 0 {
		return
	}
	took := f.Out.Sub(f.Lit)
	if since <= f.Lit {
		f.Burns, f.Still = min(f.Burns+1, deafBurns), f.Still+took
		return
	}
	f.Rose <<= 1
	if f.Top-f.Base < max(followPPM, followSteps*f.Step) {
		return
	}
	f.Rose |= 1
	if f.Usual == 0 {
		f.Low, f.Usual = f.Base, took
	}
	f.Low = min(f.Base, f.Low+(f.Base-f.Low)/followShare)
	f.Usual += (took - f.Usual) / followShare
}

// deaf reports whether the sensor, which stands at ppm, rose with nearly all burns
// of before and with none of the last few.
func (f *follow) deaf(ppm float32) bool {
	return f.Burns >= deafBurns && bits.OnesCount8(f.Rose) >= followed &&
		ppm >= f.Low+max(deafPPM, 2*f.Step) && f.Still.Seconds() >= deafBurns*deafLit*f.Usual.Seconds()
}
