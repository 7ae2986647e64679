package exposure

import (
	"math"

	"heaterd/ingest/reading"
)

// MostHeaters is how many heaters of one space can be told apart.
const MostHeaters = 6

// How the heater that CO goes with is found. Common practice, no source.
const (
	chunkSeconds    = 300   // s of unchanged flames that make one observation
	chunkSkip       = 60    // s after a flame changed that belong to neither state
	chunkGap        = 600   // s without readings that break a chunk off
	chunkKeep       = 0.997 // weight an observation keeps when the next comes: about 28 h of memory
	sourceEnough    = 12.0  // weight of observations both lit and out that a heater needs
	sourceSureness  = 3.0   // × its standard error: a source that counts
	sourceAhead     = 2.0   // × its standard error: how far the largest must lead
	sourceFloor     = 3.0   // ppm per hour, weaker is no source (NIOSH 6604: detects 1 ppm; secondary text)
	sourceNoisePPMH = 3.0   // ppm per hour, scatter assumed where the observations show less
)

// sourceTerms are the terms of the balance: the concentration, a constant,
// and one for each heater.
const sourceTerms = 2 + MostHeaters

// Source finds which heater of a space its CO goes with. It fits the balance
// of well-mixed air, dC/dt = Σ source_i·lit_i − A·(C − background), to short
// stretches of unchanged flames, so that heaters that burn together are told
// apart as soon as they have burned apart. The zero value knows nothing.
type Source struct {
	Lit   uint8           // flames of the stretch, bit i is heater i
	Since reading.Instant // since when they are unchanged
	From  reading.Instant // first reading of the chunk, 0 where none
	Last  reading.Instant
	Sums  chunk
	Cross [sourceTerms * (sourceTerms + 1) / 2]float64 // weighted products of the terms, lower triangle
	Rates [sourceTerms]float64                         // weighted products of the terms and dC/dt
	Sq    float64                                      // weighted squares of dC/dt
	N     float64                                      // weight of the observations
}

// chunk is a straight line through the readings of one observation, time in
// hours from its first.
type chunk struct{ N, X, Y, XX, XY float64 }

// Blame is the heater that the CO of a space goes with.
type Blame struct {
	Heater  int     // its bit
	PPMPerH float64 // rise it causes in closed air, ppm per hour
	SE      float64 // standard error of it, ppm per hour
}

// Apply adds the concentration of the space and which of its heaters are
// lit. Instants must not descend.
func (s *Source) Apply(at reading.Instant, ppm float64, lit uint8) {
	ppm, ok := plausible(ppm)
	if !ok || s.Last != 0 && at < s.Last {
		return
	}
	lit &= 1<<MostHeaters - 1
	broken := s.Last == 0 || at.Seconds(s.Last) > chunkGap
	s.Last = at
	switch {
	case broken || lit != s.Lit:
		s.Lit, s.Since, s.From = lit, at, 0
		return
	case at.Seconds(s.Since) < chunkSkip:
		return
	case s.From == 0:
		s.From, s.Sums = at, chunk{}
	}
	s.Sums.add(at.Seconds(s.From)/3600, ppm)
	if at.Seconds(s.From) >= chunkSeconds {
		s.observe()
		s.From, s.Sums = at, chunk{}
		s.Sums.add(0, ppm)
	}
}

func (c *chunk) add(x, y float64) {
	c.N++
	c.X += x
	c.Y += y
	c.XX += x * x
	c.XY += x * y
}

// line gives the mean and the slope per hour.
func (c *chunk) line() (mean, slope float64, ok bool) {
	d := c.N*c.XX - c.X*c.X
	if d <= 0 {
		return 0, 0, false
	}
	return c.Y / c.N, (c.N*c.XY - c.X*c.Y) / d, true
}

// observe books the chunk as one observation of the balance.
func (s *Source) observe() {
	mean, slope, ok := s.Sums.line()
	if !ok {
		return
	}
	terms := [sourceTerms]float64{mean, 1}
	for i := range MostHeaters {
		terms[2+i] = float64(s.Lit >> i & 1)
	}
	k := 0
	for i, a := range terms {
		for _, b := range terms[:i+1] {
			s.Cross[k] = s.Cross[k]*chunkKeep + a*b
			k++
		}
		s.Rates[i] = s.Rates[i]*chunkKeep + a*slope
	}
	s.Sq = s.Sq*chunkKeep + slope*slope
	s.N = s.N*chunkKeep + 1
}

// Best gives the heater that the CO goes with; false where no heater stands
// out, which is also the case where only one has ever been lit or out.
func (s *Source) Best() (Blame, bool) {
	b := s.balance()
	first, second := -1, -1
	for i := range b.n {
		if b.term[i] < 2 {
			continue
		}
		switch {
		case first < 0 || b.x[i] > b.x[first]:
			first, second = i, first
		case second < 0 || b.x[i] > b.x[second]:
			second = i
		}
	}
	if first < 0 || !b.stands(first, second) {
		return Blame{}, false
	}
	return Blame{Heater: b.term[first] - 2, PPMPerH: b.x[first], SE: b.se(first, -1)}, true
}

// balance is the solved regression over the terms that vary.
type balance struct {
	n     int
	term  [sourceTerms]int
	x     [sourceTerms]float64
	inv   [sourceTerms][sourceTerms]float64
	noise float64 // variance of dC/dt
}

func (s *Source) balance() balance {
	var b balance
	for t := range sourceTerms {
		if t < 2 || s.varies(t) {
			b.term[b.n] = t
			b.n++
		}
	}
	if b.n <= 2 || !s.invert(&b) {
		return balance{}
	}
	rest := s.Sq
	for i := range b.n {
		for j := range b.n {
			b.x[i] += b.inv[i][j] * s.Rates[b.term[j]]
		}
		rest -= b.x[i] * s.Rates[b.term[i]]
	}
	b.noise = max(rest/max(s.N-float64(b.n), 1), sourceNoisePPMH*sourceNoisePPMH)
	return b
}

// varies reports whether a heater was seen enough both lit and out.
func (s *Source) varies(term int) bool {
	lit := s.cross(term, term)
	return lit >= sourceEnough && s.N-lit >= sourceEnough
}

func (s *Source) cross(i, j int) float64 {
	if i < j {
		i, j = j, i
	}
	return s.Cross[i*(i+1)/2+j]
}

// invert fills b.inv by Gauss-Jordan elimination; false where the terms
// cannot be told apart.
func (s *Source) invert(b *balance) bool {
	var m [sourceTerms][2 * sourceTerms]float64
	for i := range b.n {
		for j := range b.n {
			m[i][j] = s.cross(b.term[i], b.term[j])
		}
		m[i][sourceTerms+i] = 1
	}
	for i := range b.n {
		if m[i][i] < 1e-9*s.cross(b.term[i], b.term[i]) || m[i][i] <= 0 {
			return false
		}
		eliminate(&m, i, b.n)
	}
	for i := range b.n {
		copy(b.inv[i][:], m[i][sourceTerms:])
	}
	return true
}

func eliminate(m *[sourceTerms][2 * sourceTerms]float64, i, n int) {
	p := m[i][i]
	for k := range m[i] {
		m[i][k] /= p
	}
	for r := range n {
		if f := m[r][i]; r != i && f != 0 {
			for k := range m[r] {
				m[r][k] -= f * m[i][k]
			}
		}
	}
}

// se is the standard error of source i, or of its lead over source j.
func (b *balance) se(i, j int) float64 {
	v := b.inv[i][i]
	if j >= 0 {
		v += b.inv[j][j] - 2*b.inv[i][j]
	}
	return math.Sqrt(max(v*b.noise, 0))
}

// stands reports whether source i is a source, and leads source j.
func (b *balance) stands(i, j int) bool {
	if b.x[i] < sourceFloor || b.x[i] < sourceSureness*b.se(i, -1) {
		return false
	}
	if j < 0 {
		return true
	}
	lead := b.x[i] - max(b.x[j], 0)
	return lead >= sourceAhead*b.se(i, j)
}
