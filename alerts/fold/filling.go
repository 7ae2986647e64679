package fold

import (
	"slices"

	"heaterd/ingest/reading"
)

// filling is what changed the known filling of a tank. What an entry made of
// it may follow from what stood before.
type filling struct {
	Fill
	N     int64   // of the mark; 0: a unit sent it
	Told  bool    // litres were told of a tank whose level nothing measures: Full follows from the level before
	Added float64 // litres told, L
	TankL float64 // L
	LPerH float64 // burned, L/h
	Late  bool    // written down after it was done
}

// filling reads a refuel that a person wrote down.
func (w *Witness) filling(h *heater, m mark) filling {
	x := filling{N: m.N, TankL: h.TankL, LPerH: h.BurnLPerH, Late: m.when() < m.At}
	x.Fill = Fill{Known: true, At: m.when(), Hours: h.runAt(w, m), Full: h.filledTo(w, m)}
	if !x.Late && h.filledWhileOut(w, m.At) {
		x.At, x.Hours = w.Last.Relit, w.Last.Hours
	}
	if x.Told = m.Entry.Litres != nil && h.TankL > 0 && !w.Known.Carries(reading.Fuel); x.Told {
		x.Added = *m.Entry.Litres
	}
	return x
}

// onto gives what is known of the tank after a filling. One that was done
// before the last known filling adds to that what it put in; with a level sent
// by a node there is nothing to add.
func (x *filling) onto(was Fill) Fill {
	f := x.Fill
	switch {
	case x.tops(was):
		f = was
		if x.Told && !was.Sent {
			f.Full = min(1, f.Full+x.Added/x.TankL)
		}
	case x.Told:
		f.Full = min(1, was.left(x.Hours, x.LPerH, x.TankL)+x.Added/x.TankL)
	}
	return f
}

// tops reports whether another filling came after it already.
func (x *filling) tops(was Fill) bool { return x.N != 0 && was.Known && x.At < was.At }

// left gives the level of a tank when the burner had run for so many hours; 0
// where nothing is known.
func (f Fill) left(run, lPerH, tankL float64) float64 {
	if !f.Known || tankL == 0 {
		return 0
	}
	return max(0, f.Full-(run-f.Hours)*lPerH/tankL)
}

// keepFill takes down what changed the filling that stood.
func (h *heater) keepFill(w *Witness, x filling) {
	j := &h.Journal
	if w != &h.Settled || len(j.Fills) == 0 && !j.notes(x.N) {
		return
	}
	if len(j.Fills) == 0 {
		j.Before.Fill = w.Fill
	}
	j.Fills = append(j.Fills, x)
	if len(j.Fills) > mostNotes {
		j.Before.Fill, j.Fills = j.Fills[0].onto(j.Before.Fill), j.Fills[1:]
	}
}

// unfill takes a filling out of the settled copy, and out of the endings that
// are not final.
func (h *heater) unfill(n int64) {
	j := &h.Journal
	i := slices.IndexFunc(j.Fills, func(x filling) bool { return x.N == n })
	if i < 0 {
		return
	}
	gone := j.Fills[i]
	j.Fills = slices.Delete(j.Fills, i, i+1)
	h.Settled.Fill = j.fillBy(func(*filling) bool { return true })
	for _, e := range append([]*ended{&h.Settled.Last}, h.Open...) {
		if e.Number != 0 && !h.settled(e) {
			e.unfill(h, &gone)
		}
	}
}

// fillBy gives what those fillings come to that count.
func (j *journal) fillBy(counts func(*filling) bool) Fill {
	f := j.Before.Fill
	for i := range j.Fills {
		if counts(&j.Fills[i]) {
			f = j.Fills[i].onto(f)
		}
	}
	return f
}

// unfill takes back what a filling told of an ending.
func (e *ended) unfill(h *heater, gone *filling) {
	j := &h.Journal
	if e.filledAfter(h, gone.At) {
		e.Refilled = j.Before.Fill.Known && e.filledAfter(h, j.Before.Fill.At) ||
			slices.ContainsFunc(j.Fills, func(x filling) bool { return e.filledAfter(h, x.At) })
	}
	if gone.At >= e.Burn.End || j.Before.Fill.At >= e.Burn.End {
		return
	}
	f := j.fillBy(func(x *filling) bool { return x.At < e.Burn.End && !(x.Late && e.filledAfter(h, x.At)) })
	e.FillKnown, e.SinceFillH, e.Full = f.Known, max(0, e.Hours-f.Hours), 1
	if f.Known {
		e.Full = f.Full
	}
}

// nextFill gives the burner hours from the fill before an ending to the first
// one after the heater had lit again; 0 where there is none, or the tank was
// filled while it was out.
func (h *heater) nextFill(e *ended) float64 {
	if e.Relit == 0 || e.Refilled || !e.FillKnown {
		return 0
	}
	for i := range h.Journal.Fills {
		if x := &h.Journal.Fills[i]; x.At > e.Relit {
			return e.SinceFillH + x.Hours - e.Hours
		}
	}
	return 0
}

// longestFill gives the most burner hours between two fills of the last week
// before an ending; 0 where there were not two.
func (h *heater) longestFill(e *ended) (longest float64) {
	was := h.Journal.Before.Fill
	for i := range h.Journal.Fills {
		x := &h.Journal.Fills[i]
		if x.At > e.Burn.End {
			continue
		}
		if was.Known {
			longest = max(longest, x.Hours-was.Hours)
		}
		was = x.Fill
	}
	return longest
}
