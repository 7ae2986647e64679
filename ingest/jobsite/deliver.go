package jobsite

import (
	"cmp"
	"math/rand/v2"
	"slices"
	"time"

	"heaterd/ingest/capture"
	"heaterd/ingest/reading"
)

// DeliverySpec says what the network between the nodes and the daemon does
// to the messages. The zero value delivers each once, in order, after a
// fraction of a second.
type DeliverySpec struct {
	ShuffleWithin time.Duration // each message is late by up to this
	Duplicate     float64       // probability that a message comes twice
	Loss          float64       // probability that a message never comes
	Join          float64       // probability that a message waits for the next ones and goes in one pack
	Split         float64       // probability that a message's quantities go in packs of their own
	CBOR          float64       // probability that a pack is written in CBOR
	Outages       []NodeOutage
}

// NodeOutage holds back what a node publishes; on return it sends it all in
// few packs. An outage past the last message still delivers, at its end.
type NodeOutage struct {
	Node     string // empty: every node
	From, To reading.Instant
}

// How delivery behaves; chosen, no source.
const (
	latencyMin  = 20 * time.Millisecond
	latencyMax  = 200 * time.Millisecond
	joinMost    = 5                // messages in one joined pack
	againWithin = 30 * time.Second // until a copy arrives: unacknowledged QoS 1 comes back on reconnect
)

// Deliver turns what was published and written down into what arrived,
// sorted by arrival. The same arguments give the same lines. Loss here is
// the network's: a Truth does not know of it, so a burn whose end was lost
// keeps its ending.
func Deliver(seed uint64, messages []Message, acts []Act, spec DeliverySpec) []capture.Line {
	d := &delivery{spec: spec, rng: source(seed, "delivery")}
	held := d.hold(d.lose(messages))
	var lines []capture.Line
	for _, m := range d.repack(held) {
		lines = append(lines, d.arrive(m)...)
	}
	for _, a := range acts {
		lines = append(lines, capture.Line{At: a.At, Entry: a.Entry, PlannedStop: a.Stop})
	}
	slices.SortStableFunc(lines, func(a, b capture.Line) int { return cmp.Compare(a.At, b.At) })
	return lines
}

type delivery struct {
	spec DeliverySpec
	rng  *rand.Rand
}

func (d *delivery) chance(p float64) bool { return p > 0 && d.rng.Float64() < p }

func (d *delivery) lose(ms []Message) []Message {
	if d.spec.Loss <= 0 {
		return ms
	}
	var kept []Message
	for _, m := range ms {
		if m.Status != "" || !d.chance(d.spec.Loss) {
			kept = append(kept, m)
		}
	}
	return kept
}

// hold moves what falls into an outage to its end, joined to few packs.
func (d *delivery) hold(ms []Message) []Message {
	var out []Message
	open := map[string]int{} // by node: where in out the pack being filled is
	for _, m := range ms {
		until, in := d.outage(m)
		switch {
		case !in:
			out = append(out, m)
			continue
		case m.Status != "":
			continue
		}
		i, ok := open[m.Node]
		if !ok || out[i].At != until || len(out[i].Samples) >= heldPerPack {
			i = len(out)
			open[m.Node] = i
			out = append(out, Message{Site: m.Site, Node: m.Node, At: until, Within: m.Within})
		}
		out[i].Samples = append(out[i].Samples, m.Samples...)
	}
	slices.SortStableFunc(out, func(a, b Message) int { return cmp.Compare(a.At, b.At) })
	return out
}

func (d *delivery) outage(m Message) (until reading.Instant, in bool) {
	for _, o := range d.spec.Outages {
		if (o.Node == "" || o.Node == m.Node) && m.At >= o.From && m.At < o.To {
			return o.To, true
		}
	}
	return 0, false
}

// repack joins some messages with the next ones of their node and splits
// others by quantity.
func (d *delivery) repack(ms []Message) []Message {
	if d.spec.Join <= 0 && d.spec.Split <= 0 {
		return ms
	}
	var out []Message
	waiting := map[string]*joined{}
	for _, m := range ms {
		w := waiting[m.Node]
		switch {
		case m.Status != "":
			out = append(out, m)
		case w != nil:
			w.add(m)
			if w.left--; w.left == 0 {
				delete(waiting, m.Node)
				out = append(out, w.Message)
			}
		case d.chance(d.spec.Join):
			w = &joined{left: 1 + d.rng.IntN(joinMost-1)}
			w.add(m)
			waiting[m.Node] = w
		case d.chance(d.spec.Split):
			out = append(out, split(m)...)
		default:
			out = append(out, m)
		}
	}
	return append(out, leftOver(ms, waiting)...)
}

type joined struct {
	Message
	left int
}

func (j *joined) add(m Message) {
	samples := append(j.Samples, m.Samples...)
	j.Message = m
	j.Samples = samples
}

// leftOver gives the packs still waiting at the end, in the order in which
// their nodes last spoke.
func leftOver(ms []Message, waiting map[string]*joined) []Message {
	var out []Message
	for _, m := range ms {
		if w := waiting[m.Node]; w != nil && w.At == m.At && m.Status == "" {
			out = append(out, w.Message)
			delete(waiting, m.Node)
		}
	}
	return out
}

// split gives a pack for the flame and one for all the rest.
func split(m Message) []Message {
	a, b := m, m
	a.Samples, b.Samples = nil, nil
	for _, s := range m.Samples {
		flame, rest := s, s
		flame.Has &= reading.Flame | reading.Runtime
		rest.Has &^= reading.Flame | reading.Runtime
		flame.On, rest.On = flame.On&flame.Has, rest.On&rest.Has
		a.Samples, b.Samples = append(a.Samples, flame), append(b.Samples, rest)
	}
	return []Message{a, b}
}

// arrive gives the line a message becomes, and its copy where it has one.
func (d *delivery) arrive(m Message) []capture.Line {
	at := m.At.Add(d.upTo(latencyMin, latencyMax) + d.upTo(0, d.spec.ShuffleWithin))
	l := capture.Line{At: at, Topic: m.Topic(), Payload: d.payload(m)}
	if !d.chance(d.spec.Duplicate) {
		return []capture.Line{l}
	}
	again := l
	again.At = at.Add(d.upTo(0, max(againWithin, d.spec.ShuffleWithin)))
	return []capture.Line{l, again}
}

func (d *delivery) payload(m Message) []byte {
	if m.Status == "" && d.chance(d.spec.CBOR) {
		return m.SenMLCBOR()
	}
	return m.Payload()
}

func (d *delivery) upTo(lo, hi time.Duration) time.Duration {
	if hi <= lo {
		return lo
	}
	return lo + time.Duration(d.rng.Int64N(int64(hi-lo)))
}
