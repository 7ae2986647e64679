package service

// waits is when a heater that was never lit will be, in times of how long it has
// been watched: of what has lasted for a while and may last for any time more,
// nobody knows at which part of it one came (a tenth, three, five, seven and nine
// of ten chances that it is over by then). Common practice, no source.
var waits = [...]float64{1. / 9, 3. / 7, 1, 7. / 3, 9}

// leastWatched is how long a heater counts as watched at least, days: one that was
// just put up is used within so long as likely as later. Common practice, no source.
const leastWatched = 3

// setUnused finds a heater that nobody has seen lit.
func (o *outlook) setUnused() {
	if o.unused = o.use.Lit == 0 && o.ran == 0; !o.unused {
		return
	}
	watched := 0
	for i := 1; i < useDays && (!o.inSeason || Date(-i) >= o.begun); i++ {
		if o.use.on(o.today-Date(i)) == 0 {
			watched++
		}
	}
	for i, w := range waits {
		o.begins[i] = whole(w * float64(max(watched, leastWatched)))
	}
}

// onceUsed gives the chance of a heater that is yet to be lit.
func (o *outlook) onceUsed(j int, h float64) (p float64) {
	for _, begins := range o.begins {
		p += o.withStops(j-begins, h) / float64(len(waits))
	}
	return p
}
