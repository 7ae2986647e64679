package alarm

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"heaterd/ingest/reading"
)

// Usual is a figure that alarm practice measures itself by.
type Usual struct {
	Measure    string
	Acceptable float64
	Most       float64 // more than this is not manageable
	Unit       string
	Source     string
}

const (
	fromMemory = "ISA-18.2 / EEMUA 191 performance figures, from memory"

	floodBegins = 10 // alarms within floodWindow; fromMemory
	floodEnds   = 5  // fewer than this within floodWindow; fromMemory
	floodWindow = 10 * time.Minute
	staleAfter  = day // fromMemory
	worstFew    = 10

	// What is needed before a figure says anything: a share of fewer alarms
	// jumps by more than 5 points with each of them, and six full days are what
	// a report of seven days has at its last. Common practice, no source.
	fewestAlarms = 20
	fewestDays   = 6
)

// UsualFigures are for a control room with somebody always at the desk; a
// technician on call, who has to get up for each, should see far fewer.
func UsualFigures() []Usual {
	return []Usual{
		{"alarms a day and person", 150, 300, "1/d", fromMemory},
		{"alarms in ten minutes", 1, 2, "1/10 min", fromMemory},
		{"most alarms in any ten minutes", floodBegins, floodBegins, "1/10 min", fromMemory},
		{"share of time in flood", 0.01, 0.01, "1", fromMemory},
		{"share of the ten most frequent", 0.05, 0.05, "1", fromMemory},
		{"chattering alarms", 0, 0, "1", fromMemory},
		{"stale alarms on any day", 5, 5, "1", fromMemory},
		{"share of priority high and above", 0.05, 0.05, "1", fromMemory},
		{"share of priority medium", 0.15, 0.15, "1", fromMemory},
	}
}

// Quality is how the alarms of a stretch of time did by the usual measures.
// Only what asked for somebody counts: see Transition.Pages.
type Quality struct {
	From, To     reading.Instant
	Alarms       int
	PerDay       float64
	PerPersonDay float64
	MostIn10Min  int
	Floods       []Flood
	FloodShare   float64       // of the time, 0 to 1
	ByPriority   []Tally       // most pressing first, every priority
	Worst        []Tally       // the ten most frequent, by id without the number
	WorstShare   float64       // of all alarms, 0 to 1
	Chattering   []string      // ids without the number
	Stale        []string      // ids that stood longer than a day
	AckMedian    time.Duration // of those that a person acknowledged; 0 without any
	Ack90        time.Duration // nine in ten were acknowledged within

	// Each alarm is in one of these, so that they add up to Alarms.
	Acked   int // by a person
	Itself  int // by heaterd itself: nobody was needed any more
	Again   int // came again, or grew, while it waited for the same answer
	Unacked int // raised and never acknowledged
}

// Rest counts the alarms beyond the ten most frequent.
func (q Quality) Rest() int {
	rest := q.Alarms
	for _, w := range q.Worst {
		rest -= w.Alarms
	}
	return rest
}

// Fewest says what a judgement wants at least.
func Fewest() string {
	return fmt.Sprintf("at least %d days, and shares at least %d alarms", fewestDays, fewestAlarms)
}

// Few reports whether a share of the alarms says nothing: there are too few
// of them.
func (q Quality) Few() bool { return q.Alarms < fewestAlarms }

// Brief reports whether a rate says nothing: the time is too short.
func (q Quality) Brief() bool { return q.To.Sub(q.From) < fewestDays*day }

// Flood is a stretch with more alarms than anybody can take in.
type Flood struct {
	From, To reading.Instant
	Alarms   int
}

// Tally is how often something alarmed.
type Tally struct {
	Name   string
	Alarms int
	Share  float64 // of all alarms, 0 to 1
}

// Measure judges the transitions, in order of time, between from and to.
// People is how many share the duty; below one counts as one.
func Measure(ts []Transition, from, to reading.Instant, people int) Quality {
	q := Quality{From: from, To: to}
	raised := pagesWithin(ts, from, to)
	q.Alarms = len(raised)
	days := max(to.Sub(from), time.Hour).Hours() / 24
	q.PerDay = float64(q.Alarms) / days
	q.PerPersonDay = q.PerDay / float64(max(people, 1))
	q.floods(raised)
	q.tallies(raised)
	q.Chattering = chattering(raised)
	q.Stale = stale(ts, from, to)
	q.answered(ts, from, to)
	return q
}

func pagesWithin(ts []Transition, from, to reading.Instant) []Transition {
	var in []Transition
	for _, t := range ts {
		if t.Pages() && t.At >= from && t.At < to {
			in = append(in, t)
		}
	}
	return in
}

func (q *Quality) floods(raised []Transition) {
	first, flooding := 0, false
	for i, t := range raised {
		for t.At.Sub(raised[first].At) >= floodWindow {
			first++
		}
		n := i - first + 1
		q.MostIn10Min = max(q.MostIn10Min, n)
		switch {
		case !flooding && n >= floodBegins:
			flooding = true
			q.Floods = append(q.Floods, Flood{raised[first].At, t.At, n})
		case flooding && n < floodEnds:
			flooding = false
		case flooding:
			f := &q.Floods[len(q.Floods)-1]
			f.To, f.Alarms = t.At, f.Alarms+1
		}
	}
	for _, f := range q.Floods {
		q.FloodShare += f.To.Seconds(f.From) / max(q.To.Seconds(q.From), 1)
	}
}

func (q *Quality) tallies(raised []Transition) {
	byStem, byPriority := map[string]int{}, map[string]int{}
	for _, t := range raised {
		byStem[t.Alarm.Key.stem()]++
		byPriority[string(t.Alarm.Priority)]++
	}
	for _, p := range Priorities() {
		n := byPriority[string(p)]
		q.ByPriority = append(q.ByPriority, Tally{string(p), n, share(n, q.Alarms)})
	}
	q.Worst = worst(byStem, q.Alarms)
	for _, w := range q.Worst {
		q.WorstShare += w.Share
	}
}

func share(n, all int) float64 {
	if all == 0 {
		return 0
	}
	return float64(n) / float64(all)
}

func worst(count map[string]int, all int) []Tally {
	var ts []Tally
	for name, n := range count {
		ts = append(ts, Tally{name, n, share(n, all)})
	}
	slices.SortFunc(ts, func(x, y Tally) int {
		return cmp.Or(cmp.Compare(y.Alarms, x.Alarms), strings.Compare(x.Name, y.Name))
	})
	return ts[:min(len(ts), worstFew)]
}

func chattering(raised []Transition) []string {
	recent, found := map[string][]reading.Instant{}, map[string]bool{}
	for _, t := range raised {
		stem := t.Alarm.Key.stem()
		times := append(recent[stem], t.At)
		if n := len(times); n >= restless.Count && t.At.Sub(times[n-restless.Count]) <= restless.Window {
			found[stem] = true
		}
		recent[stem] = times
	}
	return slices.Sorted(maps.Keys(found))
}

// stale finds alarms that stood, acknowledged or not, for more than a day.
func stale(ts []Transition, from, to reading.Instant) []string {
	began, found := map[string]reading.Instant{}, map[string]bool{}
	stood := func(id string, until reading.Instant) {
		if at, ok := began[id]; ok && until >= from && until.Sub(at) > staleAfter {
			found[id] = true
		}
	}
	for _, t := range ts {
		if t.At >= to {
			break
		}
		if _, ok := began[t.Alarm.ID]; !ok && stands(t.To) {
			began[t.Alarm.ID] = t.At
		}
		if !stands(t.To) {
			stood(t.Alarm.ID, t.At)
			delete(began, t.Alarm.ID)
		}
	}
	for id := range began {
		stood(id, to)
	}
	return slices.Sorted(maps.Keys(found))
}

func stands(s State) bool { return s == Unacknowledged || s == Acknowledged }

// answered measures the time from an alarm to its acknowledgement.
func (q *Quality) answered(ts []Transition, from, to reading.Instant) {
	open := map[string]reading.Instant{}
	var took []time.Duration
	for _, t := range ts {
		if t.At < from || t.At >= to {
			continue
		}
		at, waits := open[t.Alarm.ID]
		switch {
		case t.Pages() && waits:
			q.Again++
		case t.Pages():
			open[t.Alarm.ID] = t.At
		case t.Event != Acknowledge || !waits:
		case t.Where == ByItself:
			q.Itself++
			delete(open, t.Alarm.ID)
		default:
			took = append(took, t.At.Sub(at))
			delete(open, t.Alarm.ID)
		}
	}
	slices.Sort(took)
	q.Acked, q.Unacked = len(took), len(open)
	q.AckMedian, q.Ack90 = quantile(took, 0.5), quantile(took, 0.9)
}

// quantile is the smallest value that a share p of the sorted values does
// not exceed.
func quantile(sorted []time.Duration, p float64) time.Duration {
	if len(sorted) == 0 {
		return 0
	}
	i := int(p*float64(len(sorted))+0.999999) - 1
	return sorted[min(max(i, 0), len(sorted)-1)]
}
