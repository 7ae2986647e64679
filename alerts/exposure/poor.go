package exposure

// How a fall is told that is no air change. Common practice, no source.
const (
	decayStraighter = 9.0  // squares that a straight line must leave less by, × the scatter: three standard errors
	decayMostOff    = 0.08 // most scatter about the curve, as a share of its height, where that is more than readings scatter
	decayMostNoise  = 4.0  // × decayNoisePPM: no less
)

// poor reports whether the bins do not follow the curve: a straight line follows
// them better, or neither does. Air that is changed falls by the same share each
// minute; a source that fades, or a sensor that does, need not.
func (f fall) poor(bins []decayBin) bool {
	n := float64(len(bins))
	straight := lineRest(bins)
	noise := max(straight/(n-2), decayNoisePPM*decayNoisePPM)
	off := max(decayMostOff*f.a, decayMostNoise*decayNoisePPM)
	return f.rest-straight > decayStraighter*noise || f.rest/(n-2) > off*off
}

// lineRest gives the weighted squares that a straight line leaves over, ppm².
func lineRest(bins []decayBin) float64 {
	var n, x, y, xx, xy, yy float64
	for _, b := range bins {
		w, t, c := float64(b.N), float64(b.T-bins[0].T), float64(b.C)
		n, x, y = n+w, x+w*t, y+w*c
		xx, xy, yy = xx+w*t*t, xy+w*t*c, yy+w*c*c
	}
	x, y = x/n, y/n
	sxx, sxy, syy := xx-n*x*x, xy-n*x*y, yy-n*y*y
	return max(syy-sxy*sxy/sxx, 0)
}
