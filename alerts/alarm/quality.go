package alarm

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"
	"unique"

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

// Measure judges what was added from one instant up to another. People is how
// many share the duty; below one counts as one.
func (m *Meter) Measure(from, to reading.Instant, people int) Quality {
	q := Quality{From: from, To: to}
	raised := m.pagesWithin(from, to)
	q.Alarms = len(raised)
	days := max(to.Sub(from), time.Hour).Hours() / 24
	q.PerDay = float64(q.Alarms) / days
	q.PerPersonDay = q.PerDay / float64(max(people, 1))
	q.floods(raised)
	q.tallies(raised)
	q.Chattering = chattering(raised)
	q.Stale = stale(m.changes, from, to)
	q.answered(m.changes, from, to)
	return q
}

func (m *Meter) pagesWithin(from, to reading.Instant) []change {
	var in []change
	for _, c := range m.changes {
		if c.pages && c.at >= from && c.at < to {
			in = append(in, c)
		}
	}
	return in
}

func (q *Quality) floods(raised []change) {
	first, flooding := 0, false
	for i, c := range raised {
		for c.at.Sub(raised[first].at) >= floodWindow {
			first++
		}
		n := i - first + 1
		q.MostIn10Min = max(q.MostIn10Min, n)
		switch {
		case !flooding && n >= floodBegins:
			flooding = true
			q.Floods = append(q.Floods, Flood{raised[first].at, c.at, n})
		case flooding && n < floodEnds:
			flooding = false
		case flooding:
			f := &q.Floods[len(q.Floods)-1]
			f.To, f.Alarms = c.at, f.Alarms+1
		}
	}
	for _, f := range q.Floods {
		q.FloodShare += f.To.Seconds(f.From) / max(q.To.Seconds(q.From), 1)
	}
}

func (q *Quality) tallies(raised []change) {
	byStem, byPriority := map[string]int{}, map[Priority]int{}
	for _, c := range raised {
		byStem[c.stem.Value()]++
		byPriority[c.priority.Value()]++
	}
	for _, p := range Priorities() {
		n := byPriority[p]
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

func chattering(raised []change) []string {
	recent, found := map[string][]reading.Instant{}, map[string]bool{}
	for _, c := range raised {
		stem := c.stem.Value()
		times := append(recent[stem], c.at)
		if n := len(times); n >= restless.Count && c.at.Sub(times[n-restless.Count]) <= restless.Window {
			found[stem] = true
		}
		recent[stem] = times
	}
	return slices.Sorted(maps.Keys(found))
}

// stale finds alarms that stood, acknowledged or not, for more than a day.
func stale(all []change, from, to reading.Instant) []string {
	began, found := map[string]reading.Instant{}, map[string]bool{}
	stood := func(id string, until reading.Instant) {
		if at, ok := began[id]; ok && until >= from && until.Sub(at) > staleAfter {
			found[id] = true
		}
	}
	for _, c := range all {
		if c.at >= to {
			break
		}
		id := c.id.Value()
		if _, ok := began[id]; !ok && c.stands {
			began[id] = c.at
		}
		if !c.stands {
			stood(id, c.at)
			delete(began, id)
		}
	}
	for id := range began {
		stood(id, to)
	}
	return slices.Sorted(maps.Keys(found))
}

// answered measures the time from an alarm to its acknowledgement.
func (q *Quality) answered(all []change, from, to reading.Instant) {
	open := map[unique.Handle[string]]reading.Instant{}
	var took []time.Duration
	for _, c := range all {
		if c.at < from || c.at >= to {
			continue
		}
		at, waits := open[c.id]
		switch {
		case c.pages && waits:
			q.Again++
		case c.pages:
			open[c.id] = c.at
		case !c.acknowledges || !waits:
		case c.byItself:
			q.Itself++
			delete(open, c.id)
		default:
			took = append(took, c.at.Sub(at))
			delete(open, c.id)
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
