package jobsite

import (
	"container/heap"
	"fmt"
	"hash/fnv"
	"math/rand/v2"
	"slices"
	"time"

	"heaterd/ingest/reading"
)

// World is a running model. It is for one goroutine.
type World struct {
	spec    Spec
	rng     *rand.Rand
	sites   []site
	spaces  []space
	heaters []heater

	tick int64         // whole seconds since the start: the present
	owed time.Duration // of steps that were not whole seconds

	events    []pending
	nextEvent int
	waiting   []pending
	agenda    agenda
	seq       int64

	out   []Message
	acts  []Act
	arena []reading.Sample
}

// NewWorld builds the model in its state at the start. It fails on a
// name used twice, a heater in a space that does not exist, an event without target, an unknown zone
// and a space or heater without the figures its balance needs.
func NewWorld(spec Spec) (*World, error) {
	spec.Start -= spec.Start % reading.Instant(time.Second/time.Microsecond)
	w := &World{spec: spec, rng: source(spec.Seed, "world")}
	w.sites = make([]site, len(spec.Sites))
	for i, s := range spec.Sites {
		if err := w.addSite(&w.sites[i], s); err != nil {
			return nil, err
		}
	}
	if err := w.addHeaters(); err != nil {
		return nil, err
	}
	if err := w.addEvents(); err != nil {
		return nil, err
	}
	return w, nil
}

// source gives each part of the world a stream of its own, so that adding one
// does not change the others.
func source(seed uint64, name string) *rand.Rand {
	f := fnv.New64a()
	f.Write([]byte(name)) //nolint:errcheck // a hash never fails
	return rand.New(rand.NewPCG(seed, f.Sum64()))
}

func (w *World) addSite(to *site, s SiteSpec) error {
	zone, err := time.LoadLocation(s.Zone)
	if err != nil {
		return fmt.Errorf("cannot place site %q: %w", s.ID, err)
	}
	*to = site{spec: s, zone: zone, rng: source(w.spec.Seed, "site "+s.ID)}
	to.wander = s.WanderC * to.rng.NormFloat64()
	to.minute(w.now().Time(), 0)
	for _, sp := range s.Spaces {
		if sp.VolumeM3 <= 0 || sp.TauH <= 0 || sp.LossKWPerK <= 0 {
			return fmt.Errorf("cannot build space %q of site %q: volume, time constant and loss must be above 0", sp.ID, s.ID)
		}
		w.spaces = append(w.spaces, newSpace(sp, to))
	}
	return nil
}

func (w *World) addHeaters() error {
	ids := map[string]bool{}
	for i := range w.sites {
		for _, hs := range w.sites[i].spec.Heaters {
			if ids[hs.ID] || ids[hs.Node.ID] || hs.ID == hs.Node.ID {
				return fmt.Errorf("cannot place heater %q with node %q: the name is taken", hs.ID, hs.Node.ID)
			}
			ids[hs.ID], ids[hs.Node.ID] = true, true
			in := w.space(&w.sites[i], hs.Space)
			if in == nil {
				return fmt.Errorf("cannot place heater %q: site %q has no space %q", hs.ID, w.sites[i].spec.ID, hs.Space)
			}
			h := newHeater(hs, &w.sites[i], in, source(w.spec.Seed, "heater "+hs.ID))
			h.node = newNode(hs.Node, source(w.spec.Seed, "node "+hs.Node.ID))
			w.heaters = append(w.heaters, h)
		}
	}
	for i := range w.heaters {
		h := &w.heaters[i]
		h.node.heater = h
		h.space.heaters = append(h.space.heaters, h)
		if h.spec.StartFuel == 0 && h.spec.TankL > 0 {
			w.writeRefuel(h)
		}
	}
	return nil
}

func (w *World) space(on *site, id string) *space {
	for i := range w.spaces {
		if s := &w.spaces[i]; s.site == on && s.spec.ID == id {
			return s
		}
	}
	return nil
}

func (w *World) addEvents() error {
	for _, e := range w.spec.Events {
		p, err := w.newPending(e)
		if err != nil {
			return err
		}
		w.events = append(w.events, p)
	}
	slices.SortStableFunc(w.events, func(a, b pending) int { return int(a.at - b.at) })
	return nil
}

// Now gives the present of the model.
func (w *World) Now() reading.Instant { return w.now().Add(w.owed) }

func (w *World) now() reading.Instant { return w.at(w.tick) }

func (w *World) at(tick int64) reading.Instant {
	return w.spec.Start.Add(time.Duration(tick) * time.Second)
}

// Step advances the model by dt and gives what the nodes published meanwhile,
// in time order. Parts of a second are owed to the next step.
func (w *World) Step(dt time.Duration) []Message {
	w.owed += dt
	w.out = nil
	for ; w.owed >= time.Second; w.owed -= time.Second {
		w.second()
	}
	return w.out
}

// Acts gives what people wrote down since the last call, in time order.
func (w *World) Acts() []Act {
	a := w.acts
	w.acts = nil
	return a
}

// second brings everything to the present tick, lets the nodes look at it,
// and then lets one second pass.
func (w *World) second() {
	if w.tick%weatherStepS == 0 {
		now := w.now().Time()
		for i := range w.sites {
			w.sites[i].minute(now, w.tick)
		}
	}
	w.begin()
	w.agenda.run(w.tick)
	for i := range w.heaters {
		w.advance(&w.heaters[i])
	}
	for i := range w.heaters {
		h := &w.heaters[i]
		if w.tick == h.node.next {
			w.report(h.node)
		}
		if h.phase == lit {
			h.burn()
		}
	}
	for i := range w.spaces {
		w.spaces[i].second()
	}
	w.tick++
}

// one puts a sample into a slice of its own without an allocation each.
func (w *World) one(s reading.Sample) []reading.Sample {
	if len(w.arena) == cap(w.arena) {
		w.arena = make([]reading.Sample, 0, 1024)
	}
	w.arena = append(w.arena, s)
	n := len(w.arena)
	return w.arena[n-1 : n : n]
}

// between gives whole seconds from lo to hi, both included.
func (w *World) between(lo, hi int64) int64 { return lo + w.rng.Int64N(hi-lo+1) }

// span gives a whole number of seconds from lo to hi.
func (w *World) span(lo, hi time.Duration) time.Duration {
	return time.Duration(w.between(seconds(lo), seconds(hi))) * time.Second
}

// after does act d from now, this second at the earliest.
func (w *World) after(d time.Duration, act func()) {
	w.seq++
	heap.Push(&w.agenda, task{at: w.tick + seconds(d), seq: w.seq, act: act})
}

// task is something that happens later.
type task struct {
	at, seq int64
	act     func()
}

// agenda orders tasks by time, those of one second as they were made.
type agenda []task

func (a agenda) Len() int { return len(a) }
func (a agenda) Less(i, j int) bool {
	return a[i].at < a[j].at || a[i].at == a[j].at && a[i].seq < a[j].seq
}
func (a agenda) Swap(i, j int) { a[i], a[j] = a[j], a[i] }

// Push is for container/heap.
func (a *agenda) Push(x any) { *a = append(*a, x.(task)) }

// Pop is for container/heap.
func (a *agenda) Pop() any {
	old := *a
	t := old[len(old)-1]
	*a = old[:len(old)-1]
	return t
}

func (a *agenda) run(tick int64) {
	for len(*a) > 0 && (*a)[0].at <= tick {
		heap.Pop(a).(task).act()
	}
}
