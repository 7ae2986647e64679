package fold

import (
	"slices"
	"sort"
	"time"

	"heaterd/alerts/exposure"
	"heaterd/alerts/fleet"
	"heaterd/alerts/service"
	"heaterd/alerts/shutdown"
	"heaterd/alerts/trust"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// heater is one heater with its node.
type heater struct {
	fleet.Heater
	site   *site
	space  *space
	rules  *Rules
	ending []ended            // burns closed by the sample in hand
	stand  []service.Standing // where the work stands, looked at once an hour
	mind
}

// mind is everything known of one heater: two copies of what its samples add
// up to, the samples that may still be overtaken, and the burns not yet
// final. A snapshot is this and nothing else.
type mind struct {
	Begin   reading.Instant // when the record began
	Settled Witness
	Live    Witness
	Pending []reading.Sample // folded into Live, not into Settled; ascending
	Bridge  *Witness         // behind a hole that may still be filled: Settled and the first Bridged of Pending; else nil
	Bridged int
	Marks   []mark        // what people wrote, not yet folded into Settled; ascending
	Within  time.Duration // longest time to the next reading that the node promised

	Clock   trust.Clock
	Packs   trust.Cadence   // of arrivals
	Heard   reading.Instant // arrival of the last fresh telemetry; 0 never
	Offline bool            // the node, or its will, said so since

	Open    []*ended // burns that ended and are not final, in order
	Told    []*ended // final ones that others of the site may still be compared with
	Judged  judgement
	Work    service.Book
	Use     service.Use
	Shop    bool            // out of service
	Visited reading.Instant // last entry of the service log
	Stops   []stop
	Recent  []shutdown.Past  // last endings as judged, for the patterns
	Faults  []shutdown.Fault // unexplained endings so far, for the trend
	Fixes   fixes
	Endings [7]int // final endings so far, in the order of outcome.Endings
	Decay   exposure.Decay
}

// mark is a line of the service log waiting for the samples before it.
type mark struct {
	At    reading.Instant
	Entry record.Entry
}

// insert puts one sample in its place. It reports whether the live copy must
// be made anew because the sample came behind a later one.
func (h *heater) insert(x reading.Sample) (stale bool) {
	switch {
	case x.At <= h.Settled.At:
		h.tooLate(x)
		return false
	case x.At > h.Live.At:
		h.Pending = append(h.Pending, x)
		h.ending = h.Live.apply(h, x, h.ending[:0])
		return false
	}
	i := sort.Search(len(h.Pending), func(i int) bool { return h.Pending[i].At >= x.At })
	if i < len(h.Pending) && h.Pending[i].At == x.At {
		merged := h.Pending[i].Merge(x)
		stale = merged != h.Pending[i]
		if stale {
			h.unbridge(i)
		}
		h.Pending[i] = merged
		return stale
	}
	h.unbridge(i)
	h.Pending = slices.Insert(h.Pending, i, x)
	return true
}

// tooLate takes what a sample can still tell once its place in time is
// settled: a higher peak of CO. Duplicates change nothing.
func (h *heater) tooLate(x reading.Sample) {
	if x.Carries(reading.CO) {
		h.Settled.Air.Late(float64(x.CO))
		h.Live.Air.Late(float64(x.CO))
	}
}

// renew makes the live copy anew from the settled one, or from the bridge
// where there is one.
func (h *heater) renew() {
	h.Live = h.Settled
	if h.Bridge != nil {
		h.Live = *h.Bridge
	}
	for _, x := range h.Pending[h.Bridged:] {
		h.ending = h.Live.apply(h, x, h.ending[:0])
	}
}

// settle folds the samples that nothing can overtake any more.
func (h *heater) settle(now reading.Instant) {
	n := 0
	for n < len(h.Pending) && !h.mayBeOvertaken(h.Pending[n], now) {
		h.settleOne(h.Pending[n])
		n++
	}
	if n > 0 {
		h.Pending = slices.Delete(h.Pending, 0, n)
		h.Bridged = max(0, h.Bridged-n)
		h.forgetMarks()
	}
	h.bridge(now)
}

// bridge keeps a copy that has seen all that the lateness window has closed,
// while a hole before it keeps it from being settled: so a straggler of some
// minutes does not fold days anew.
func (h *heater) bridge(now reading.Instant) {
	for h.Bridged < len(h.Pending) && now.Sub(h.Pending[h.Bridged].At) >= h.rules.Lateness {
		if h.Bridge == nil {
			w := h.Settled
			h.Bridge = &w
		}
		h.ending = h.Bridge.apply(h, h.Pending[h.Bridged], h.ending[:0])
		h.Bridged++
	}
	if h.Bridged == 0 {
		h.Bridge = nil
	}
}

// unbridge gives the bridge up when a sample changes what it rests on.
func (h *heater) unbridge(i int) {
	if i < h.Bridged {
		h.Bridge, h.Bridged = nil, 0
	}
}

// mayBeOvertaken holds a sample back inside the lateness window, and behind a
// hole that a node's own buffer may still fill.
func (h *heater) mayBeOvertaken(x reading.Sample, now reading.Instant) bool {
	if now.Sub(x.At) < h.rules.Lateness {
		return true
	}
	hole := h.Settled.At != 0 && x.At.Sub(h.Settled.At) > h.rules.Lateness
	return hole && now.Sub(x.At) < h.rules.Backlog
}

// settleOne folds one sample into the settled copy, and keeps what is only
// kept there: the burns that wait for their verdict, the use of each day, and
// the air changes of the space.
func (h *heater) settleOne(x reading.Sample) {
	before := h.Settled.Day
	h.ending = h.Settled.apply(h, x, h.ending[:0])
	if h.Settled.Day.Number != before.Number {
		h.countDays(before, h.Settled.Day)
	}
	for _, b := range h.ending {
		h.Open = append(h.Open, &b)
		h.site.ended(h, &b)
		h.ripen()
	}
	h.followOpen()
	if x.Carries(reading.CO) && h.space != nil {
		h.Decay.Apply(x.At, float64(x.CO), h.space.anyLit(x.At))
	}
}

// followOpen copies what came after the last ending to the burn that waits.
func (h *heater) followOpen() {
	if len(h.Open) == 0 {
		return
	}
	last := h.Open[len(h.Open)-1]
	if last.Number == h.Settled.Last.Number {
		last.Aftermath = h.Settled.Last.Aftermath
	}
}

// countDays adds finished civil days to the use on which forecasts rest. A
// hole of several days shares its hours evenly among them.
func (h *heater) countDays(from, to day) {
	if from.Ends == 0 {
		return
	}
	days := to.Number - from.Number
	each := (to.Hours - from.Hours) / float64(days)
	for d := from.Number; d < to.Number; d++ {
		h.Use.Add(service.Date(d), each)
	}
}

// write takes a line of the service log.
func (h *heater) write(m mark) {
	i := sort.Search(len(h.Marks), func(i int) bool { return h.Marks[i].At > m.At })
	h.Marks = slices.Insert(h.Marks, i, m)
}

// applyMarks folds into w what people wrote up to at.
func (h *heater) applyMarks(w *Witness, at reading.Instant) {
	if len(h.Marks) == 0 || h.Marks[len(h.Marks)-1].At <= w.Marked {
		return
	}
	done := w.Marked
	for _, m := range h.Marks {
		if m.At > w.Marked && m.At <= at {
			w.mark(h, m)
			done = m.At
		}
	}
	w.Marked = done
}

func (w *Witness) mark(h *heater, m mark) {
	if m.Entry.MeterH != nil {
		w.Burner.Anchor(m.At, *m.Entry.MeterH-h.HoursAtStart, &h.rules.Burner)
	}
	if m.Entry.Task == "refuel" {
		w.fill(m.At, h.filledTo(w, m))
	}
	if w == &h.Settled {
		h.workDone(&h.Work, w, m)
	}
}

// filledTo gives how full the tank is after a refuel; to the brim unless the
// entry says how many litres went into a tank whose level was known.
func (h *heater) filledTo(w *Witness, m mark) float64 {
	if m.Entry.Litres == nil || h.TankL == 0 {
		return 1
	}
	return min(1, h.levelAt(w, m.At)+*m.Entry.Litres/h.TankL)
}

// levelAt estimates the tank's level from the last fill, the run since and
// the plate's burn rate; 0 when there is nothing to go by.
func (h *heater) levelAt(w *Witness, at reading.Instant) float64 {
	if w.Known.Carries(reading.Fuel) {
		return float64(w.Known.Fuel)
	}
	if !w.Fill.Known || h.TankL == 0 {
		return 0
	}
	used := (w.Burner.HoursAt(at).Run - w.Fill.Hours) * h.BurnLPerH / h.TankL
	return max(0, w.Fill.Full-used)
}

func (h *heater) forgetMarks() {
	n := 0
	for n < len(h.Marks) && h.Marks[n].At <= h.Settled.Marked && h.Marks[n].At <= h.Live.Marked {
		n++
	}
	h.Marks = h.Marks[n:]
}
