package trust

import (
	"slices"
	"time"

	"heaterd/ingest/reading"
)

// How an expected interval is learned and when a node counts as silent.
// Common practice, no source.
const (
	firstInterval    = 2 * time.Minute // expected before anything was learned
	shortestInterval = 5 * time.Second // learned intervals are kept to these bounds
	longestInterval  = time.Hour
	silentIntervals  = 3                // × the expected interval without a reading: silent
	SilentLeast      = 5 * time.Minute  // but never sooner than this
	OnceHeard        = 16 * time.Minute // nor sooner than this after its first word: some report every quarter of an hour
	cadenceSpans     = 9                // newest spans whose median counts
	cadenceEnough    = 3                // spans before the median is believed
)

// Cadence learns how often something comes: the median of the newest spans,
// so that a lost reading, a burst or an outage does not move it. The zero
// value has learned nothing.
type Cadence struct {
	Spans  [cadenceSpans]float32 // s, newest last written at Next
	Median float32               // s, of the spans
	Next   uint8
	N      uint8
	Last   reading.Instant
}

// Observe notes an event at an instant; one that is not after the newest is
// passed over.
func (c *Cadence) Observe(at reading.Instant) {
	if c.Last != 0 && at <= c.Last {
		return
	}
	if c.Last != 0 {
		c.put(float32(at.Seconds(c.Last)))
	}
	c.Last = at
}

// put keeps a span in place of the oldest; of a node that keeps time that
// changes nothing.
func (c *Cadence) put(span float32) {
	same := c.N == cadenceSpans && c.Spans[c.Next] == span
	c.Spans[c.Next] = span
	c.Next = (c.Next + 1) % cadenceSpans
	c.N = min(c.N+1, cadenceSpans)
	if !same {
		c.Median = c.median()
	}
}

func (c *Cadence) median() float32 {
	s := c.Spans
	slices.Sort(s[:c.N])
	return s[c.N/2]
}

// Learned gives the median span; false where too few were seen.
func (c *Cadence) Learned() (time.Duration, bool) {
	if c.N < cadenceEnough {
		return firstInterval, false
	}
	d := time.Duration(float64(c.Median) * float64(time.Second))
	return min(max(d, shortestInterval), longestInterval), true
}

// Likely gives the interval to count on for a silence: what was learned; before
// that, of two spans the shorter one, and of one its half, which with
// silentIntervals waits for one and a half. So a node that sends seldom is not
// silent after each of its first words, and one that sends often has to be heard
// but a third time to be known.
func (c *Cadence) Likely() time.Duration {
	d, known := c.Learned()
	if known || c.N == 0 {
		return d
	}
	span := c.Spans[0] / 2
	if c.N > 1 {
		span = min(c.Spans[0], c.Spans[1])
	}
	return min(max(d, time.Duration(float64(span)*float64(time.Second))), longestInterval)
}

// Once reports whether nothing but a first event was noted: no span tells yet
// how often it comes.
func (c *Cadence) Once() bool { return c.Last != 0 && c.N == 0 }

// Expected gives the interval to count on: what the node promised (SenML ut,
// RFC 8428: the longest time to the next reading) where it promised, else
// what was learned, else firstInterval.
func (c *Cadence) Expected(promised time.Duration) time.Duration {
	if promised > 0 {
		return min(max(promised, shortestInterval), longestInterval)
	}
	d, _ := c.Learned()
	return d
}

// SilentAfter gives the time without a word after which a node is silent.
// It is the longest of SilentLeast and silentIntervals times the interval
// between readings and between packs, for a node that collects readings and
// sends them together is not silent in between, and of what its lost packs explain.
func SilentAfter(readings, packs time.Duration, lost Loss) time.Duration {
	return max(silentIntervals*readings, silentIntervals*packs, lost.Wait(packs), SilentLeast)
}

// siteWindow is how near together the last words of a site's nodes must be
// to be one event, beyond the longest silence limit among them. Common
// practice, no source.
const siteWindow = 5 * time.Minute

// siteLeast is how many nodes it takes to tell a site's silence from one
// node's.
const siteLeast = 2

// Word is the last that was heard of one node.
type Word struct {
	Last  reading.Instant // 0: never heard
	After time.Duration   // its SilentAfter
}

// Silent reports whether nothing was heard for too long at now.
func (w Word) Silent(now reading.Instant) bool {
	return w.Last != 0 && now.Sub(w.Last) > w.After
}

// SiteSilent reports whether a whole site vanished together: every node that
// was ever heard is silent, and the last words of at least two lie within
// siteWindow and one silence limit of the newest. Then one alarm for the site
// says it all of those, whose last words came no earlier than from.
func SiteSilent(words []Word, now reading.Instant) (from reading.Instant, is bool) {
	var last reading.Instant
	var after time.Duration
	for _, w := range words {
		if w.Last != 0 && !w.Silent(now) {
			return 0, false
		}
		last, after = max(last, w.Last), max(after, w.After)
	}
	from = last.Add(-siteWindow - after)
	n := 0
	for _, w := range words {
		if w.Last != 0 && w.Last >= from {
			n++
		}
	}
	return from, n >= siteLeast
}
