package fold

import (
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
	node   reading.NodeID // the unit on it now; empty none
	still  still
	site   *site
	space  *space
	rules  *Rules
	soft   *Witness           // what Live is made anew from where Settled waits; see renew
	stand  []service.Standing // where the work stands, as somebody asked in this hour; nil: nobody did
	crests *crests            // not looked at yet; nil none
	passed []ended            // endings that others followed at once, not judged yet
	mind
}

// mind is everything known of one heater: two copies of what its samples add
// up to, the samples that may still be overtaken, and the burns not yet
// final. A snapshot is this and nothing else.
type mind struct {
	figures

	Pending []pending    // folded into Live, not into Settled; ascending
	Doubts  []doubt      // not placed yet, in the order they came
	Marks   []mark       // what people wrote, not yet folded into both; ascending
	Air     []airReading // of CO, until every flame of the space is known at their time
	Fitted  *fitted      // the node a person fitted since the configuration was read; nil none
	Before  earlier      // units that were on it before

	Open    []*ended // burns that ended and are not final, in order
	Told    []*ended // final ones that others of the site may still be compared with
	Losses  losses   // of the mains, as its unit told
	Holes   holes    // in which its unit was not heard
	Judged  judgement
	Stops   []stop
	Recent  []shutdown.Past  // last endings as judged, for the patterns
	Faults  []shutdown.Fault // unexplained endings so far, for the trend
	Fixes   fixes
	Early   []int32 // numbers of endings counted in Endings that are not final yet
	Source  *source // which heater of the space its CO goes with; nil where it has but one
	Shelf   shelf   // work done on tasks that the plan lacks
	Journal journal // entries that may be withdrawn
}

// figures are the part of a mind that is always of the same size. What every
// reading and every tick touches stands first, together.
type figures struct {
	Begin   reading.Instant // when the record began
	Heard   reading.Instant // arrival of the last fresh telemetry, or since when it is waited for; 0 never
	Visited reading.Instant // last entry of the service log
	Within  time.Duration   // longest time to the next reading that the node promised
	Lag     float64         // s by which packs come late, the most of late ones; see delay
	Lost    trust.Loss      // of its packs, on the way
	Written int64           // marks written so far
	Offline bool            // the node, or its will, said so since
	Below   bool            // its CO sensor read less than another of the space, when last compared
	Spoilt  reading.Instant // the first sample that Live lacks because it came behind a later one; 0 none
	Packs   trust.Cadence   // of arrivals
	Clock   trust.Clock
	Live    Witness

	Settled Witness
	Trail   trail
	Decay   exposure.Decay
	Work    service.Book
	Use     service.Use
	Endings [7]int32 // endings so far, in the order of outcome.Endings, as first judged
}

// source is the search for the heater that the CO of a space goes with.
type source = exposure.Source

// mark is a line of the service log waiting for the samples before it.
type mark struct {
	At    reading.Instant
	N     int64 // counted per heater from 1, ascending with At
	Entry record.Entry
}

// begin starts the heater's record.
func (h *heater) begin(at reading.Instant) {
	h.Begin = at
	h.Settled.Air = exposure.NewSensor(h.site.Activity)
	h.Live.Air = h.Settled.Air
	h.startWork(at)
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

// wholeDay is how much of its first day a heater must have been heard for the
// day to stand for one. Common practice, no source.
const wholeDay = 22 * time.Hour

// countDays adds finished civil days to the use on which forecasts rest. A
// hole of several days shares its hours evenly among them.
func (h *heater) countDays(from, to day) {
	if from.Ends == 0 {
		return
	}
	if first := h.Settled.Burner.First; from.Number == h.site.dayAt(first, 0).Number && from.Ends.Sub(first) < wholeDay {
		h.Use.Partly(service.Date(from.Number))
	}
	days := to.Number - from.Number
	each := (to.Hours - from.Hours) / float64(days)
	for d := from.Number; d < to.Number; d++ {
		h.Use.Add(service.Date(d), each)
		if d > from.Number && !h.Settled.Known.Carries(reading.Runtime) {
			h.Use.Unknown(service.Date(d)) // a whole day in a silence, and no counter went on
		}
	}
}

// ranToday is how long the burner ran since the last midnight of the site, h;
// none of it where the newest sample is older.
func (w *Witness) ranToday(now reading.Instant) float64 {
	if w.Day.Ends == 0 || now >= w.Day.Ends {
		return 0
	}
	return max(0, w.Burner.HoursAt(w.At).Run-w.Day.Hours)
}

// write takes a line of the service log; they come in order of time.
func (h *heater) write(at reading.Instant, en record.Entry) mark {
	h.Written++
	m := mark{At: at, N: h.Written, Entry: en}
	h.Marks = append(h.Marks, m)
	return m
}

// applyMarks folds into w what people wrote up to at.
func (h *heater) applyMarks(w *Witness, at reading.Instant) {
	h.foldMarks(w, func(m *mark) bool { return m.At <= at })
}

// applyMarksBefore folds into w what people wrote before a sample. What they
// wrote at its very instant comes after it, whichever came first; but the unit
// that they fitted then is the one that tells of that instant.
func (h *heater) applyMarksBefore(w *Witness, at reading.Instant) {
	if len(h.Marks) == 0 {
		return
	}
	upTo := int64(0)
	for i := range h.Marks {
		if m := &h.Marks[i]; m.At < at || m.At == at && m.Entry.Task == fitNode {
			upTo = m.N
		}
	}
	h.foldMarks(w, func(m *mark) bool { return m.N <= upTo })
}

func (h *heater) foldMarks(w *Witness, due func(*mark) bool) {
	for _, m := range h.Marks {
		if m.N > w.Marked && due(&m) {
			w.mark(h, m)
			w.Marked = m.N
		}
	}
}

// written gives the live copy with what people wrote since its newest reading:
// the hour meter that somebody read on a heater that is not heard counts at
// once, and not only when its unit speaks again.
func (h *heater) written(now reading.Instant) *Witness {
	if n := len(h.Marks); n == 0 || h.Marks[n-1].N <= h.Live.Marked {
		return &h.Live
	}
	w := h.Live
	h.applyMarks(&w, now)
	return &w
}

// mark folds one line of the service log. The hour meter comes first, so that
// work done at the same visit is counted from what the meter read.
func (w *Witness) mark(h *heater, m mark) {
	if m.Entry.Task == fitNode && m.Entry.Node != "" {
		w.refit(h, m)
	}
	if m.Entry.MeterH != nil {
		w.readMeter(h, m)
	}
	if m.Entry.Task == refuel {
		w.refuelled(h, m)
	}
	w.verify(m)
	if w == &h.Settled {
		h.expect(m)
		h.Journal.closed(h.rules.Plan, m, h.workDone(&h.Work, w, m), deploys(m))
	}
}

func (h *heater) forgetMarks() {
	n := 0
	for n < len(h.Marks) && h.Marks[n].N <= h.Settled.Marked && h.Marks[n].N <= h.Live.Marked {
		n++
	}
	h.Marks = h.Marks[n:]
}
