package service

import "math"

// series is the worked days as the level is fitted to them, newest first.
type series struct {
	n        int
	hours    [useDays]float64 // h over the weekday's share
	age      [useDays]int     // days before today
	mean     float64          // of hours
	older    float64          // mean of the days before those, h a day; 0 none
	olderAge float64          // days before today; 0 not known, or another winter

	season   [useDays]float64 // share of the year's mean, under the shape in hand
	seasonal float64          // mean of season
	usual    float64          // of the sum of squares, what is expected before any is seen, h²
	rough    float64          // variance of a day without a change of level, h²
	base     moments          // what is known before the days are seen
	baseLog  float64
	step     [useDays]struct{ g, x float64 } // season and hours less what the day before left
	sum      [useDays + 1]moments            // of the first steps
}

// moments are sums of squares and products of season and hours.
type moments struct{ gg, gx, xx float64 }

func (a moments) plus(b moments) moments  { return moments{a.gg + b.gg, a.gx + b.gx, a.xx + b.xx} }
func (a moments) minus(b moments) moments { return moments{a.gg - b.gg, a.gx - b.gx, a.xx - b.xx} }

// left gives the sum of squares that the best level leaves, h².
func (a moments) left() float64 { return max(0, a.xx-a.gx*a.gx/a.gg) }

// add counts one observation with a weight.
func (a *moments) add(weight, g, x float64) {
	*a = a.plus(moments{weight * g * g, weight * g * x, weight * x * x})
}

// leastShare is the least share of a mean day that a weekday must have to
// tell the level (common practice, no source).
const leastShare = 0.25

// series gives the days that tell the level.
func (o *outlook) series(g *glance) (s series) {
	for i := 1; i < useDays; i++ {
		w := g.week[weekday(i)]
		if g.days[i] < 0 || w < leastShare {
			continue
		}
		s.hours[s.n], s.age[s.n] = g.days[i]/w, i
		s.mean += s.hours[s.n]
		s.n++
	}
	s.mean /= max(1, float64(s.n))
	s.setOlder(o)
	return s
}

// enoughOlder is how many days before the last six weeks are worth a look,
// days (common practice, no source).
const enoughOlder = 7

// setOlder looks at the days before those singly kept. How old they are is
// known where the season is long enough for all of them.
func (s *series) setOlder(o *outlook) {
	w, mean := o.old()
	if w < enoughOlder {
		return
	}
	s.older = mean
	days := math.Log(1-min(w, 0.9/(1-oldKeep))*(1-oldKeep)) / math.Log(oldKeep)
	if float64(-o.begun) >= useDays+days/2 {
		s.olderAge = useDays + days/2
	}
}

// shapeUp takes a shape of the season in hand.
func (s *series) shapeUp(phase, height float64) {
	s.seasonal = 0
	for i := range s.n {
		s.season[i] = seasonAt(phase-yearTurn*float64(s.age[i]), height)
		s.seasonal += s.season[i]
	}
	s.seasonal /= float64(s.n)
}

// leastSeason is the least share of the year's mean that a season leaves
// (common practice, no source).
const leastSeason = 0.05

// seasonAt gives the share of the year's mean at a phase of the year.
func seasonAt(phase, height float64) float64 { return max(leastSeason, 1+height*math.Cos(phase)) }

// overSeason is the share of the year's mean that a whole season has, over
// the height of the season: a cosine over seven months.
const overSeason = 0.5

// fitted is what one shape and one persistence make of the days.
type fitted struct {
	log      float64 // of the evidence
	weight   float64
	mean     float64 // level, h
	second   float64 // mean of its square, h²
	variance float64 // of a day, h²
	last     float64 // yesterday's deviation, h
}

// fit weighs a change of level at any of the days, and none, by the evidence
// for it: normal regression on the season, with deviations of first order
// (Cochrane and Orcutt 1949) and conjugate priors (both from memory).
func (s *series) fit(phase, height, keep float64) fitted {
	if s.n == 0 {
		return s.unseen(seasonAt(phase, height))
	}
	s.steps(keep)
	s.setBase(phase, height)
	f := fitted{log: math.Inf(-1)}
	steady := s.sum[s.n].plus(s.base)
	s.unchanged(&f, steady)
	level := max(steady.gx/steady.gg, 0.1*s.mean/s.seasonal)
	bond := s.rough / sq(changeBy*level)
	for r, last := 1, 0; r < s.n; r, last = r+1+r/6, r {
		s.changed(&f, r, keep, bond, float64(s.age[r]-s.age[last]))
	}
	f.mean /= f.weight
	f.second /= f.weight
	f.variance /= f.weight
	f.log += math.Log(f.weight) + 0.5*math.Log(1-keep*keep)
	f.last = s.hours[0] - f.mean*s.season[0]
	return f
}

// unseen is what is thought of a heater nobody has watched of late, where the
// season has such a share of the year's mean.
func (s *series) unseen(season float64) fitted {
	hours := priorHours
	if s.older > 0 {
		hours = s.older
	}
	mean := hours / season
	return fitted{mean: mean, second: sq(mean) + sq(mean*priorDoubt), variance: sq(hours * priorSpread)}
}

// steps takes off each day what the one before leaves of its deviation.
func (s *series) steps(keep float64) {
	for i := range s.n {
		st := &s.step[i]
		if i < s.n-1 {
			st.g, st.x = s.season[i]-keep*s.season[i+1], s.hours[i]-keep*s.hours[i+1]
		} else {
			k := math.Sqrt(1 - keep*keep)
			st.g, st.x = k*s.season[i], k*s.hours[i]
		}
		s.sum[i+1] = s.sum[i]
		s.sum[i+1].add(1, st.g, st.x)
	}
}

// leastVariance keeps a heater that ran alike to the second from a spread of
// nothing, h².
const leastVariance = 1e-4

// setBase works out what is known of the level before the days are seen.
func (s *series) setBase(phase, height float64) {
	s.usual = spreadDays*sq(priorSpread*s.mean) + leastVariance
	s.rough = (s.sum[s.n].left() + s.usual) / (float64(s.n) + spreadDays)
	prior := priorHours / s.seasonal
	w := s.rough / sq(priorDoubt*prior)
	s.base = moments{}
	s.base.add(w, 1, prior)
	s.baseLog = 0.5 * math.Log(w)
	if s.older > 0 {
		g := 1 + overSeason*height
		if s.olderAge > 0 {
			g = seasonAt(phase-yearTurn*s.olderAge, height)
		}
		w = s.rough / sq(oldDoubt*s.older)
		s.base.add(w, g, s.older)
		s.baseLog += 0.5 * math.Log(w)
	}
}

// leastSteady is the least chance that the level did not change within the
// days kept, ratio (common practice, no source).
const leastSteady = 0.05

func (s *series) unchanged(f *fitted, all moments) {
	never := max(leastSteady, 1-changes*float64(s.age[s.n-1]))
	left := all.left() + s.usual
	s.take(f, math.Log(never)-0.5*math.Log(all.gg), all.gx/all.gg, 1/all.gg, left)
}

// changed supposes that the level changed before the newest r days, within
// so many days. The bond ties the two levels together.
func (s *series) changed(f *fitted, r int, keep, bond, within float64) {
	all := s.sum[s.n].plus(s.base)
	newer, older := s.sum[r-1], all.minus(s.sum[r])
	x, a, b := s.step[r-1].x, s.season[r-1], -keep*s.season[r]
	aa, ab, bb := newer.gg+a*a+bond, a*b-bond, older.gg+b*b+bond
	ax, bx := newer.gx+a*x, older.gx+b*x
	det := aa*bb - ab*ab
	mean, before := (bb*ax-ab*bx)/det, (aa*bx-ab*ax)/det
	left := max(0, all.xx-ax*mean-bx*before) + s.usual
	s.take(f, math.Log(changes*within*math.Sqrt(bond/det)), mean, bb/det, left)
}

// beneath is how much less the logarithm of the evidence may be than the
// best's to count.
const beneath = 7

// take mixes one supposition in.
func (s *series) take(f *fitted, log, mean, doubt, left float64) {
	days := float64(s.n) + spreadDays
	log += s.baseLog - days/2*math.Log(left)
	if log < f.log-beneath {
		return
	}
	if log > f.log {
		k := math.Exp(f.log - log)
		f.weight, f.mean, f.second, f.variance, f.log = k*f.weight, k*f.mean, k*f.second, k*f.variance, log
	}
	w, variance := math.Exp(log-f.log), left/max(1, days-spreadLoss)
	f.weight += w
	f.mean += w * mean
	f.second += w * (mean*mean + variance*doubt)
	f.variance += w * variance
}

func sq(x float64) float64 { return x * x }
