package trust

import (
	"time"

	"heaterd/ingest/reading"
)

// When a node's clock is believed to be wrong. Common practice, no source.
const (
	AheadLimit   = 2 * time.Minute    // stamps that stay this far after their arrival cannot be
	behindLimit  = 2 * time.Minute    // a constant lag at least this long is a clock behind
	lateness     = 10 * time.Minute   // delivery may delay and shuffle packs by this much
	BufferedMost = 8 * 24 * time.Hour // no node keeps readings longer, unless the site says so: an older stamp cannot be
	lagPacks     = 10                 // packs a lag must last
	lagApart     = 20 * time.Second   // and be apart to count: a backlog sends many at once
	lagSpan      = 15 * time.Minute   // time a lag must last
	lagSpread    = time.Minute        // spread of a constant lag, or a third of it up to lateness
	lagDrift     = 2 * time.Minute    // a lag that shrinks or grows by more is a backlog
	rightPacks   = 3                  // packs in a row, right without the offset, that end an offset larger than lateness
	rightSpan    = 2 * time.Minute    // and the time they must span, which a backlog on its way through does not
	crossPacks   = 3                  // packs in a row, apart and equally late, that tell a time anew otherwise: a clock set back
	crossUnsure  = 5                  // where some may only repeat what was told
	crossSpread  = 10 * time.Second   // in which they are equally late
	surePacks    = 30                 // packs in a row that end a smaller offset, which delays can hide for a while
	sureSpan     = time.Hour          // and the time they must span
	onTime       = time.Minute        // a lag no longer than this is none
	creepStep    = 30 * time.Second   // a lag that grows by more from one pack to the next does so at once
	stillPacks   = 3                  // packs in a row, apart, that tell otherwise of the same instant: a clock that stands
	stillSpan    = 5 * time.Minute    // and the time they must span
)

// Clock finds what must be added to a node's stamps. A stamp long after its
// own arrival proves a clock ahead at once, a shorter lead once it lasts. A lag proves nothing at once, since
// packs are delayed, shuffled, kept for days and sent again: it must stay
// constant, and it must have come by the stamps stepping back, have been there
// from the first word on, or have grown little by little, which is a clock that
// loses time. A backlog that is sent after an outage goes on where the stamps
// had stopped, later at once by as long as the outage was, and so never counts.
// The zero value believes the node.
type Clock struct {
	Offset  int64           // µs to add to the stamps
	From    reading.Instant // arrival of the first pack that it is known to be right for
	Newest  reading.Instant // newest stamp believed so far, by the node's clock
	Heard   bool            // a pack was seen
	Stepped bool            // stamps stepped back, or nothing but a lag was ever seen
	Last    int64           // lag of the newest pack, µs
	Steps   int64           // by how much the lag grew at once, since a pack was on time, µs
	Right   int32           // packs in a row that were right without the offset
	RightAt reading.Instant // arrival of the first of those
	Before  reading.Instant // newest stamp of those
	Leads   int32           // packs in a row a little ahead of their arrival
	LeadAt  reading.Instant // arrival of the first of those
	Lag     plateau
	Creep   stretch
	Cross   crossing
	Still   standstill
}

// standstill is a row of packs with the same newest stamp.
type standstill struct {
	At      reading.Instant // that stamp
	Since   reading.Instant // arrival of the first
	Counted reading.Instant // arrival of the newest that told otherwise
	N       int32           // those that were apart
	Repeats bool            // the newest pack told nothing new
}

// crossing is a row of late packs about a time the node had told of.
type crossing struct {
	N        int32           // those that were apart
	Counted  reading.Instant // arrival of the newest of those
	Min, Max int64           // lag, µs
	Unsure   bool            // some of them may repeat what was told
}

// stretch is the lag of some packs in a row.
type stretch struct {
	Since    reading.Instant // arrival of its first pack
	Counted  reading.Instant // arrival of the newest pack that counted
	N        int32           // packs that were apart
	Min, Max int64           // lag without any offset, µs
}

// plateau is a stretch of packs whose lag may be constant.
type plateau struct {
	Since    reading.Instant // arrival of its first pack
	Counted  reading.Instant // arrival of the newest pack that counted
	N        int32           // packs that were apart
	Min, Max int64           // lag without any offset, µs
	FirstMin int64           // lowest lag of its first half
	Half     int32           // packs in its first half
	Later    int64           // lowest lag of the rest
}

// Retime judges one pack by its newest stamp and its arrival and gives the
// offset to add to its stamps. It wants live packs in order of arrival: a
// message that the broker had retained says nothing about the clock. kept is how
// long the node may keep readings, BufferedMost at least.
func (c *Clock) Retime(newest, arrived reading.Instant, kept time.Duration) time.Duration {
	lag := int64(arrived - newest)
	c.step(newest, lag)
	c.grow(lag)
	switch corrected := lag - c.Offset; {
	case c.ahead(corrected, arrived), c.Offset != 0 && corrected < 0:
		from := arrived
		if c.Leads >= lagPacks {
			from = c.LeadAt
		}
		c.set(small(lag), from) // ahead of what is believed; the least delayed pack tells best
	case lag > micros(max(kept, BufferedMost)) && corrected > micros(lateness):
		c.set(lag, arrived)
	default:
		c.watch(newest, arrived, lag)
	}
	c.Newest = max(c.Newest, newest)
	c.Heard = true
	return c.offset()
}

// ahead reports whether stamps lie so far after their arrival that the clock
// must be wrong. Beyond what delivery may shuffle one pack proves it; below,
// every pack must for a while: a recorder that stamped arrivals late, or put
// messages into another order, makes some look so.
func (c *Clock) ahead(corrected int64, arrived reading.Instant) bool {
	switch {
	case corrected >= -micros(AheadLimit):
		c.Leads = 0
		return false
	case corrected < -micros(lateness):
		return true
	}
	if c.Leads == 0 {
		c.LeadAt = arrived
	}
	c.Leads++
	return c.Leads >= lagPacks && arrived.Sub(c.LeadAt) >= lateness
}

// Skewed gives the offset of a clock that is wrong; false where the node is
// believed.
func (c *Clock) Skewed() (time.Duration, bool) { return c.offset(), c.Offset != 0 }

func (c *Clock) offset() time.Duration { return time.Duration(c.Offset) * time.Microsecond }

func micros(d time.Duration) int64 { return d.Microseconds() }

// small takes a lag that a right clock can have as none.
func small(lag int64) int64 {
	if lag >= -micros(AheadLimit) && lag < micros(behindLimit) {
		return 0
	}
	return lag
}

// step notes whether the stamps stepped back by more than delivery can
// shuffle them, which is a clock set back or an old pack sent again; a pack
// that is on time tells the two apart.
func (c *Clock) step(newest reading.Instant, lag int64) {
	switch {
	case !c.Heard, int64(c.Newest-newest) > micros(lateness):
		c.Stepped = true
	case lag-c.Offset <= micros(behindLimit):
		c.Stepped = false
	}
}

// grow notes by how much a pack is later than the one before at once, as after
// an outage.
func (c *Clock) grow(lag int64) {
	grown := lag - c.Last
	switch {
	case lag-c.Offset <= micros(onTime):
		c.Steps = 0
	case c.Heard && max(grown, -grown) > micros(creepStep):
		c.Steps = max(c.Steps+grown, 0)
	}
	c.Last = lag
}

// crept reports whether the lag has grown little by little, from one stretch of
// packs that are much alike to another, and gives how large it is.
func (c *Clock) crept(arrived reading.Instant, lag int64) (now int64, is bool) {
	s := &c.Creep
	if s.N == 0 {
		*s = stretch{Since: arrived, Counted: arrived, N: 1, Min: lag, Max: lag}
		return 0, false
	}
	s.Min, s.Max = min(s.Min, lag), max(s.Max, lag)
	if arrived.Sub(s.Counted) >= lagApart {
		s.N++
		s.Counted = arrived
	}
	if s.N < lagPacks || arrived.Sub(s.Since) < lagSpan {
		return 0, false
	}
	all := *s
	*s = stretch{}
	return small(all.Min), all.Max-all.Min <= micros(lagDrift) && small(all.Min)-c.Offset > c.Steps+micros(onTime)
}

func (c *Clock) set(offset int64, from reading.Instant) {
	c.Offset, c.From = offset, from
	c.Stepped = false
	c.Newest = 0
	c.Right, c.Leads = 0, 0
	c.Lag, c.Creep, c.Cross = plateau{}, stretch{}, crossing{}
}

// Crossed notes a pack that came later than delivery explains and tells of a
// time that the node has told of already: otherwise, or it is not sure
// whether otherwise. No backlog does that: a few of them in a row, with the
// same lag, are a clock set back. It reports whether they are, and then the
// offset is set.
func (c *Clock) Crossed(newest, arrived reading.Instant, sure bool) bool {
	lag, x := int64(arrived-newest), &c.Cross
	if lo, hi := min(x.Min, lag), max(x.Max, lag); x.N == 0 || hi-lo > micros(crossSpread) {
		*x = crossing{N: 1, Counted: arrived, Min: lag, Max: lag}
	} else {
		x.Min, x.Max = lo, hi
	}
	x.Unsure = x.Unsure || !sure
	if arrived.Sub(x.Counted) >= lagApart {
		x.N++
		x.Counted = arrived
	}
	if x.N < crossPacks || x.Unsure && x.N < crossUnsure {
		return false
	}
	c.set(small(x.Min), arrived)
	return true
}

// Stands notes a pack and whether what it tells is not what was told of the
// same instant. No repetition does that: a few such packs are a clock that
// stands, and each tells of when it came. It reports whether they are, and then
// the offset is set.
func (c *Clock) Stands(newest, arrived reading.Instant, otherwise bool) bool {
	s := &c.Still
	if newest != s.At {
		*s = standstill{At: newest, Since: arrived, Counted: arrived}
		return false
	}
	s.Repeats = !otherwise && s.N < stillPacks
	if otherwise && arrived.Sub(s.Counted) >= lagApart {
		s.N++
		s.Counted = arrived
	}
	if s.N < stillPacks || arrived.Sub(s.Since) < stillSpan {
		return false
	}
	c.set(int64(arrived-newest), arrived)
	return true
}

// Lags reports whether a few packs in a row, apart, were equally late, of a node
// that never was on time or whose stamps stepped back: most likely a clock behind,
// though not proven yet.
func (c *Clock) Lags() bool {
	return c.Offset == 0 && c.Stepped && c.Lag.N >= crossPacks && c.Lag.Min > micros(lateness) && c.Lag.Max-c.Lag.Min <= micros(crossSpread)
}

// Asked reports whether packs since one that came at an instant may yet prove
// that the clock is, or was from then on, wrong. What they tell may have to be moved.
func (c *Clock) Asked() (since reading.Instant, is bool) {
	switch {
	case c.Leads > 0:
		return c.LeadAt, true
	case c.Stepped && c.Lag.N > 0 && small(c.Lag.Min) > c.Offset && !c.Lag.lasts(c.Lag.Counted):
		return c.Lag.Since, true
	}
	return 0, false
}

// OnTime ends a row of such packs.
func (c *Clock) OnTime() { c.Cross = crossing{} }

// watch looks at a pack that arrived no earlier than believed.
func (c *Clock) watch(newest, arrived reading.Instant, lag int64) {
	if c.Offset != 0 && c.rightAgain(newest, arrived, lag) {
		c.set(0, arrived)
		return
	}
	c.Lag.take(arrived, lag)
	creeping, crept := c.crept(arrived, lag)
	switch constant := small(c.Lag.Min); {
	case c.Stepped && constant != c.Offset && c.Lag.constant(arrived):
		c.set(constant, c.Lag.Since)
	case crept:
		c.set(creeping, arrived)
	}
}

// rightAgain counts packs in a row that would be on time without the offset.
// Where the offset is no larger than delivery may delay, packs of a clock
// ahead look so by chance, and it takes many more.
func (c *Clock) rightAgain(newest, arrived reading.Instant, lag int64) bool {
	if small(lag) != 0 {
		c.Right = 0
		return false
	}
	if c.Right > 0 && newest <= c.Before {
		return false
	}
	if c.Right == 0 {
		c.RightAt = arrived
	}
	c.Right++
	c.Before = newest
	span := arrived.Sub(c.RightAt)
	if lag-c.Offset > micros(lateness) {
		return c.Right >= rightPacks && span >= rightSpan
	}
	return c.Right >= surePacks && span >= sureSpan
}

// take adds a pack; one that is too far from the rest begins a new plateau.
func (p *plateau) take(arrived reading.Instant, lag int64) {
	if p.N > 0 {
		lo, hi := min(p.Min, lag), max(p.Max, lag)
		if hi-lo <= spread(lo) {
			p.grow(arrived, lag, lo, hi)
			return
		}
	}
	*p = plateau{Since: arrived, Counted: arrived, N: 1, Min: lag, Max: lag, FirstMin: lag, Half: 1, Later: lag}
}

func spread(lag int64) int64 {
	return min(max(lag/3, micros(lagSpread)), micros(lateness))
}

func (p *plateau) grow(arrived reading.Instant, lag, lo, hi int64) {
	p.Min, p.Max = lo, hi
	if arrived.Sub(p.Counted) < lagApart {
		return
	}
	p.N++
	p.Counted = arrived
	switch {
	case p.N <= lagPacks/2 || arrived.Sub(p.Since) < lagSpan/2:
		p.FirstMin = min(p.FirstMin, lag)
		p.Half = p.N
	case p.Half == p.N-1:
		p.Later = lag
	default:
		p.Later = min(p.Later, lag)
	}
}

func (p *plateau) lasts(now reading.Instant) bool {
	return p.N >= lagPacks && now.Sub(p.Since) >= lagSpan
}

// constant reports whether the lag lasted and did not shrink or grow.
func (p *plateau) constant(now reading.Instant) bool {
	if !p.lasts(now) || p.Half >= p.N {
		return false
	}
	drift := p.FirstMin - p.Later
	return max(drift, -drift) <= micros(lagDrift)
}
