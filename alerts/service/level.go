package service

import "math"

// level is the heater's hours a day in season, as a mixture over what shape
// the season may have for it and how long its deviations last (Bayesian
// model averaging; Hoeting et al. 1999, from memory).
type level struct {
	shape [len(shapes)]struct {
		mean   float64 // h a day where the season is at its year's mean, times the weight
		second float64 // mean of its square, times the weight, h²
	}
	keep [len(keeps)]struct {
		variance float64 // of a day, times the weight, h²
		last     float64 // yesterday's deviation, times the weight, h
	}
	phase float64 // of the year, from the height of the season to today, radians
}

// setLevel weighs every shape of the season and every persistence by how
// well it explains the days seen.
func (o *outlook) setLevel(g *glance) {
	s := o.series(g)
	o.level.phase = o.phase
	var fits [len(shapes)][len(keeps)]fitted
	best, total := math.Inf(-1), 0.0
	for i, shape := range shapes {
		s.shapeUp(o.phase, shape.value)
		for k, keep := range keeps {
			fits[i][k] = s.fit(o.phase, shape.value, keep.value)
			fits[i][k].log += math.Log(shape.chance * keep.chance)
			best = max(best, fits[i][k].log)
		}
	}
	for i := range fits {
		for k := range fits[i] {
			fits[i][k].weight = math.Exp(fits[i][k].log - best)
			total += fits[i][k].weight
		}
	}
	for i := range fits {
		for k := range fits[i] {
			o.level.mix(i, k, fits[i][k].weight/total, &fits[i][k])
		}
	}
}

// mix adds what one shape and one persistence make of the days.
func (l *level) mix(shape, keep int, w float64, f *fitted) {
	l.shape[shape].mean += w * f.mean
	l.shape[shape].second += w * f.second
	l.keep[keep].variance += w * f.variance
	l.keep[keep].last += w * f.last
}

// over gives the mean of the level over the days from now, h a day, and the
// variance of that mean, h².
func (l *level) over(days float64) (mean, doubt float64) {
	turn := yearTurn * max(days, 0.01)
	wave := (math.Sin(l.phase+turn) - math.Sin(l.phase)) / turn
	return l.times(wave)
}

// today gives the level as it is now, h a day, and its variance, h².
func (l *level) today() (mean, doubt float64) { return l.times(math.Cos(l.phase)) }

// times gives mean, h, and variance, h², of the level where the season is at
// that share of its height.
func (l *level) times(wave float64) (mean, doubt float64) {
	second := 0.0
	for i := range l.shape {
		g := max(leastSeason, 1+shapes[i].value*wave)
		mean += g * l.shape[i].mean
		second += g * g * l.shape[i].second
	}
	return mean, max(0, second-mean*mean)
}

// carried gives what yesterday's deviation still adds to the hours of n days.
func (l *level) carried(n float64) (h float64) {
	for k := range l.keep {
		keep := keeps[k].value
		lasts := keep / (1 - keep)
		if lasts > 0 {
			h += l.keep[k].last * lasts * n / (n + lasts)
		}
	}
	return h
}

// noise gives the variance of the sum of n days around the level, h²:
// close to that of deviations of first order, without their powers.
func (l *level) noise(n float64) (v float64) {
	for k := range l.keep {
		keep := keeps[k].value
		long := (1 + keep) / (1 - keep)
		v += l.keep[k].variance * n * long * n / (n + long - 1)
	}
	return v
}

// long gives the variance that a day adds to a long sum, h².
func (l *level) long() (v float64) {
	for k := range l.keep {
		keep := keeps[k].value
		v += l.keep[k].variance * (1 + keep) / (1 - keep)
	}
	return v
}

// become makes the level one of that mean, h, whatever the season's shape.
func (l *level) become(mean float64) {
	have, _ := l.times(0)
	for i := range l.shape {
		l.shape[i].mean *= mean / have
		l.shape[i].second *= sq(mean / have)
	}
}
