package fold

import (
	"fmt"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fleet"
	"heaterd/alerts/outcome"
	"heaterd/alerts/service"
	"heaterd/alerts/wording"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// Engine folds the log of one fleet.
type Engine struct {
	rules   Rules
	sites   []*site
	heaters []*heater
	byNode  map[reading.NodeID]*heater
	byID    map[string]*heater
	stays   map[reading.NodeID][]stay // where units were before, in order of time
	book    *alarm.Book
	away    []remembered // heaters that left the configuration

	begin    reading.Instant // time of the first line
	now      reading.Instant // time of the newest line
	nextTick reading.Instant
	ticks    int64
	behind   int  // lines in a row that are much older than the newest
	swept    bool // no alarm is of something that is not there
	effects  Effects
	states   []service.Standing // of the heater in hand
}

// Effects are what a step changed, in order.
type Effects struct {
	Burns       []outcome.Burn // endings that can no longer change
	Judged      []outcome.Burn // endings as first judged; they may still change
	Transitions []alarm.Transition
	Withdrawn   []Withdrawn // entries of the service log that count no more
	Errors      []error     // answers of people that could not be carried out
}

// New prepares an engine for a checked fleet.
func New(f fleet.Fleet, rules Rules) *Engine {
	e := &Engine{
		rules:  rules,
		byNode: make(map[reading.NodeID]*heater, len(f.Heaters)),
		byID:   make(map[string]*heater, len(f.Heaters)),
		stays:  map[reading.NodeID][]stay{},
	}
	e.SetAlarms(nil)
	sites := make(map[string]*site, len(f.Sites))
	for _, s := range f.Sites {
		sites[s.ID] = e.addSite(s)
	}
	all := make([]heater, len(f.Heaters)) // together: each alone would waste what its size is rounded up by
	for i, h := range f.Heaters {
		e.addHeater(&all[i], sites[h.Site], h)
	}
	e.seat()
	return e
}

func (e *Engine) addSite(s fleet.Site) *site {
	out := &site{Site: s, silence: alarm.Key{Kind: alarm.SiteSilent, Site: s.ID}}
	for _, sp := range s.Spaces {
		out.spaces = append(out.spaces, newSpace(sp, out))
	}
	e.sites = append(e.sites, out)
	return out
}

func (e *Engine) addHeater(h *heater, s *site, spec fleet.Heater) {
	h.Heater, h.site, h.rules = spec, s, &e.rules
	for _, sp := range s.spaces {
		if sp.ID == spec.Space {
			h.space = sp
			sp.heaters = append(sp.heaters, h)
		}
	}
	s.heaters = append(s.heaters, h)
	e.heaters = append(e.heaters, h)
	e.byID[h.ID] = h
}

// Touched lists the alarms changed since it was last asked, as they are now.
func (e *Engine) Touched() []alarm.Alarm { return e.book.Touched() }

// SetAlarms puts other alarms in place of those known: the ledger's, where
// they are the later word.
func (e *Engine) SetAlarms(all []alarm.Alarm) {
	e.book = alarm.NewBook(e.rules.Alarms)
	e.book.Speak(e.speak)
	e.book.Restore(all)
	e.swept = false
	for _, s := range e.sites {
		s.forgetStill()
	}
}

// Now is the time of the newest line.
func (e *Engine) Now() reading.Instant { return e.now }

// SiteOf gives the site of the heater that a node is on; false where it is on
// none.
func (e *Engine) SiteOf(node reading.NodeID) (site string, ok bool) {
	h := e.byNode[node]
	if h == nil {
		return "", false
	}
	return h.site.ID, true
}

// Step folds one line and gives what it changed. The result is valid until
// the next Step.
func (e *Engine) Step(l record.Line) *Effects {
	e.effects.Burns = e.effects.Burns[:0]
	e.effects.Judged = e.effects.Judged[:0]
	e.effects.Transitions = e.effects.Transitions[:0]
	e.effects.Withdrawn = e.effects.Withdrawn[:0]
	e.effects.Errors = e.effects.Errors[:0]
	e.advance(l.At)
	switch {
	case l.Pack != nil:
		e.pack(l)
	case l.Status != nil:
		e.status(l)
	case l.Entry != nil:
		e.entry(l, *l.Entry)
	case l.Withdraw != nil:
		e.withdraw(*l.Withdraw)
	case l.Stop != nil:
		e.plannedStop(e.now, *l.Stop)
	case l.Answer != nil && l.Retained: // an answer is given once, not kept for whoever comes
	case l.Answer != nil:
		e.answer(e.now, *l.Answer)
	case l.Notice != nil:
		e.notice(*l.Notice)
	}
	return &e.effects
}

// advance runs every tick up to at. Beyond a week without a line the ticks are
// wider apart, so that no pause, and no clock set forward, costs more than a
// week's.
func (e *Engine) advance(at reading.Instant) {
	if e.begin == 0 {
		e.start(at)
	}
	e.followClock(at)
	const week = 7 * 24 * time.Hour
	step := e.rules.Tick * (1 + at.Sub(e.nextTick)/week)
	for e.nextTick <= at {
		e.now = e.nextTick
		e.tick(e.now)
		e.nextTick = e.nextTick.Add(step)
	}
	e.now = max(e.now, at)
}

func (e *Engine) start(at reading.Instant) {
	e.begin, e.now = at, at
	e.nextTick = e.tickAfter(at)
	for _, h := range e.heaters {
		h.begin(at)
	}
}

func (e *Engine) tickAfter(at reading.Instant) reading.Instant {
	every := reading.Instant(e.rules.Tick.Microseconds())
	return (at/every + 1) * every
}

// pack takes one message of telemetry.
func (e *Engine) pack(l record.Line) {
	h := e.byNode[l.Pack.Node]
	switch {
	case len(l.Pack.Samples) == 0:
		return
	case h == nil:
		c := e.clockOf(l.Pack.Node)
		shift, _ := c.Skewed()
		e.giveBack(l, shift)
		return
	}
	if l.Pack.Within > 0 {
		h.Within = l.Pack.Within
	}
	before := h.Live.Known
	if e.take(h, l) {
		h.renew(e.now)
	}
	if !l.Retained && !h.Clock.Still.Repeats {
		e.hear(h, l.Pack.Samples[len(l.Pack.Samples)-1].At)
	}
	e.lookAtCrests(h)
	e.lookAtAir(h, h.Live.Known.COAt > before.COAt)
	e.lookAtHeater(h, &before)
}

// hear notes a pack by its newest stamp. What a silent unit had kept is no word
// of how it is now: it calls nobody, so that its silence goes on.
func (e *Engine) hear(h *heater, newest reading.Instant) {
	if usual, known := h.Packs.Learned(); known {
		h.Lost.Note(e.now.Sub(h.Packs.Last), usual)
	}
	h.Packs.Observe(e.now)
	shift, _ := h.Clock.Skewed()
	if e.now.Sub(newest.Add(shift)) > e.rules.Lateness && e.alarmed(h.nodeKey(alarm.NodeSilent)) {
		return
	}
	h.Heard, h.Offline = e.now, false
}

// take puts the samples of a pack in their places. It reports whether the
// live copy must be made anew.
func (e *Engine) take(h *heater, l record.Line) (stale bool) {
	last := &l.Pack.Samples[len(l.Pack.Samples)-1]
	newest := last.At
	shift, _ := h.Clock.Skewed()
	word := !l.Retained && !h.echo(last, shift, e.now)
	if word {
		before := shift
		shift = e.retime(h, last, shift)
		stale = shift != before && h.move(h.Clock.From, shift-before)
		h.delay(e.now.Sub(newest.Add(shift)))
	}
	all, held := e.giveBack(l, shift), false
	if word && len(all) > 0 {
		var freed bool
		shift, held, freed = e.doubted(h, all, shift)
		stale = stale || freed
	}
	for i, x := range all {
		if x.At == l.At {
			if l.Retained {
				continue // without a time of its own nobody knows how old it is
			}
			x.At -= x.At % second // the quantities of one moment may come one by one
		}
		if held {
			h.Doubts = append(h.Doubts, doubt{Sample: x, Came: e.now, Shift: shift})
			x.At = x.At.Add(shift)
			e.ceiling(h, x)
			continue
		}
		x.At = x.At.Add(shift)
		stale = e.place(h, x) || stale
		if i < len(all)-1 {
			h.noteCrests(&h.Live)
		}
	}
	return stale
}

// retime judges the clock of a fresh pack by its newest sample. One of before the
// last word is an old pack again, whatever it tells.
func (e *Engine) retime(h *heater, last *reading.Sample, shift time.Duration) time.Duration {
	otherwise := last.At.Add(shift) >= h.Live.At && h.Live.Known.otherwise(last)
	if h.Clock.Stands(last.At, e.now, otherwise) {
		shift, _ := h.Clock.Skewed()
		return shift
	}
	return h.Clock.Retime(last.At, e.now, e.rules.keptMost())
}

// place puts a sample in its place, looking first at what calls for people
// wherever that is.
func (e *Engine) place(h *heater, x reading.Sample) (stale bool) {
	e.ceiling(h, x)
	return h.insert(x, e.now)
}

const second = reading.Instant(time.Second / time.Microsecond)

func (e *Engine) status(l record.Line) {
	if h := e.byNode[l.Status.Node]; h != nil && !l.Retained {
		h.Offline = !l.Status.Online
	}
}

func (e *Engine) entry(l record.Line, en record.Entry) {
	h := e.byID[en.Heater]
	if h == nil {
		e.refuse("no heater %q is configured; the entry was kept in the log only", en.Heater)
		return
	}
	if en.Task == fitNode && en.Node != "" {
		e.fit(h, reading.NodeID(en.Node))
	}
	for _, task := range append([]string{en.Task}, en.Tasks...) {
		if !h.knows(task) {
			e.refuse("no task %q is in the service plan; the entry of heater %q does not close it", task, en.Heater)
		}
	}
	e.date(e.now, &en)
	m := h.write(e.now, en)
	h.note(m, l.ID, l.At)
	defer e.lookAtWork(h)
	if en.Task != refuel && en.Task != readMeter {
		h.Visited = max(h.Visited, m.when())
	}
	if en.Found != "" {
		if h.Fixes == nil {
			h.Fixes = fixes{}
		}
		h.Fixes[en.Found]++
	}
}

func (e *Engine) plannedStop(at reading.Instant, p record.PlannedStop) {
	h := e.byID[p.Heater]
	if h == nil {
		e.refuse("no heater %q is configured; the planned stop was kept in the log only", p.Heater)
		return
	}
	if err := p.Check(at); err != nil {
		e.refuse("heater %q: %w; it was kept in the log only", p.Heater, err)
		return
	}
	if p.End {
		h.endStops(at)
		return
	}
	from := p.Begins(at)
	h.Stops = append(h.Stops, stop{From: from, To: from.Add(p.For), By: p.By})
	if from < at {
		e.explain(h)
	}
}

// notice raises what the daemon says of itself.
func (e *Engine) notice(n record.Notice) {
	key := alarm.Key{Kind: alarm.StoreUnavailable}
	if n.About == "channel" {
		key = alarm.Key{Kind: alarm.ChannelDown, Detail: n.Detail}
	}
	e.put(n.Down, key, func(c *alarm.Condition) { c.Findings.Evidence = []string{n.Why} })
}

func (e *Engine) refuse(format string, args ...any) {
	e.effects.Errors = append(e.effects.Errors, fmt.Errorf(format, args...))
}

func (e *Engine) answer(at reading.Instant, a record.Answer) {
	if a.Alarm == "" && a.Heater != "" && e.byID[a.Heater] == nil {
		e.refuse("no heater %q is configured; the answer was kept in the log only", a.Heater)
		return
	}
	ts, err := e.book.Answer(at, a)
	e.effects.Transitions = append(e.effects.Transitions, ts...)
	if err != nil {
		e.effects.Errors = append(e.effects.Errors, err)
	}
}

// speak words an alarm at its site.
func (e *Engine) speak(a alarm.Alarm) string {
	for _, s := range e.sites {
		if s.ID == a.Site {
			return wording.Told(wording.Of(a, &s.Site))
		}
	}
	return wording.Told(wording.Of(a, nil))
}
