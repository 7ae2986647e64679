package warmth

import (
	"math"
	"time"

	"heaterd/ingest/reading"
)

// How a cooling is learned from. Common practice, no source.
const (
	settleSeconds = 900           // s after the last flame in which the air and not the building cools
	chunkLeast    = 900           // s, least and most that make one observation of the cooling rate
	chunkMost     = 5400          // s
	chunkFallC    = 0.7           // °C of fall that end one in between
	chunkGap      = 1800          // s without readings that break one off
	chunkKeep     = 0.99          // weight an observation keeps when the next comes: some days of cooling
	enoughWeight  = 6.0           // observations before a time constant is believed
	enoughSpanC   = 2.0           // °C, twice the scatter of temperatures they must cover
	sureness      = 3.0           // × its standard error: a time constant that counts
	tauLeast      = 0.25          // h, bounds of a time constant that can be
	tauMost       = 500.0         // h
	rateNoise     = 0.05          // °C/h, scatter assumed where the observations show less
	fresh         = 2 * time.Hour // age at which an observed cooling rate is no longer the present one
)

// State is the temperature record of one space. The zero value has seen
// nothing.
type State struct {
	At       reading.Instant // newest reading
	TempC    float64
	Count    int64
	LowestC  float64
	HighestC float64
	IsCold   bool
	IsHot    bool
	Lit      bool
	LitAt    reading.Instant // newest reading with a flame, else the first reading
	Chunk    chunk
	From     reading.Instant // first reading of the chunk, 0 where none
	RateCPH  float64         // newest observed cooling rate, °C/h, positive when it cools
	RateAt   reading.Instant // when it was observed, 0 where never
	Fit      cooling
}

// chunk is a straight line through readings, time in hours from its first.
type chunk struct{ N, X, Y, XX, XY float64 }

// cooling is the regression of the cooling rate on the temperature.
type cooling struct{ N, T, R, TT, TR, RR float64 }

// Apply adds one temperature and whether any flame of the space is, or may
// be, lit. Instants must not descend.
func (s *State) Apply(at reading.Instant, tempC float64, lit bool, l Limits) {
	if math.IsNaN(tempC) || math.IsInf(tempC, 0) || s.Count > 0 && at < s.At {
		return
	}
	if s.Count == 0 {
		s.LowestC, s.HighestC, s.LitAt = tempC, tempC, at
	}
	s.learn(at, tempC, lit)
	s.At, s.TempC, s.Lit = at, tempC, lit
	s.Count++
	s.LowestC, s.HighestC = min(s.LowestC, tempC), max(s.HighestC, tempC)
	s.IsCold = l.AboveC != nil && beyond(s.IsCold, *l.AboveC-tempC)
	s.IsHot = beyond(s.IsHot, tempC-l.hot())
}

// beyond is a condition that begins past its limit and ends DeadBandC on the
// other side of it.
func beyond(was bool, by float64) bool {
	if was {
		return by > -DeadBandC
	}
	return by > 0
}

// Cold reports the condition of space-cold. It stands until a reading ends it.
func (s *State) Cold() bool { return s.IsCold }

// Hot reports the condition of space-hot. It stands until a reading ends it.
func (s *State) Hot() bool { return s.IsHot }

// learn takes straight lines through short stretches of cooling: their
// slopes against their means give τ and Ta.
func (s *State) learn(at reading.Instant, tempC float64, lit bool) {
	if lit {
		s.LitAt, s.From, s.RateAt = at, 0, 0
		return
	}
	if at.Seconds(s.LitAt) < settleSeconds {
		return
	}
	if s.From == 0 || at.Seconds(s.At) > chunkGap {
		s.From, s.Chunk = at, chunk{}
	}
	s.Chunk.add(at.Seconds(s.From)/3600, tempC)
	span := at.Seconds(s.From)
	if span < chunkLeast {
		return
	}
	mean, slope, ok := s.Chunk.line()
	if !ok || span < chunkMost && math.Abs(slope)*span/3600 < chunkFallC {
		return
	}
	s.RateCPH, s.RateAt = -slope, at
	s.Fit.add(mean, -slope)
	s.From, s.Chunk = at, chunk{}
	s.Chunk.add(0, tempC)
}

func (c *chunk) add(x, y float64) {
	c.N++
	c.X += x
	c.Y += y
	c.XX += x * x
	c.XY += x * y
}

func (c *chunk) line() (mean, slope float64, ok bool) {
	d := c.N*c.XX - c.X*c.X
	if d <= 0 {
		return 0, 0, false
	}
	return c.Y / c.N, (c.N*c.XY - c.X*c.Y) / d, true
}

func (c *cooling) add(t, r float64) {
	const k = chunkKeep
	c.N = c.N*k + 1
	c.T = c.T*k + t
	c.R = c.R*k + r
	c.TT = c.TT*k + t*t
	c.TR = c.TR*k + t*r
	c.RR = c.RR*k + r*r
}
