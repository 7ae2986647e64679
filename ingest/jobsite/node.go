package jobsite

import (
	"cmp"
	"math"
	"math/rand/v2"
	"time"

	"heaterd/ingest/reading"
)

// What a node's sensors add to the truth when its NodeSpec leaves it out.
const (
	restInterval = 30 * time.Second
	coNoisePPM   = 0.3  // ppm, standard deviation; within the 1 ppm detection of NIOSH 6604
	tempNoiseC   = 0.15 // °C, standard deviation
	coStepPPM    = 0.1  // ppm, resolution
	tempStepC    = 0.05 // °C, resolution
	fuelStep     = 0.01 // ratio, resolution
	batteryFull  = 4.1  // V
	batteryEmpty = 3.3  // V
	heldPerPack  = 500  // samples in one pack when a node empties its memory
	willAfterS   = 90   // s until the broker tells of a lost node: 1.5 keep-alives of a minute (MQTT 3.1.1)
)

// node is the state of one sensor unit.
type node struct {
	spec     NodeSpec
	rng      *rand.Rand
	heater   *heater
	every    int64
	next     int64
	counter  float64
	clockS   float64
	gain     float64
	coNoise  float64
	tmpNoise float64
	dead     int // silences in force
	cut      int // outages in force
	away     int // silences and outages together, to guard the status
	told     bool
	held     []reading.Sample

	last int64 // tick of the last sample taken and not lost
	gaps []gap
	open bool // in a gap
}

// gap is a stretch without samples: after from, up to to.
type gap struct{ from, to int64 }

func newNode(s NodeSpec, rng *rand.Rand) *node {
	s.Interval = cmp.Or(s.Interval, restInterval)
	n := &node{spec: s, rng: rng, every: max(seconds(s.Interval), 1), counter: s.RuntimeStart, last: -1}
	n.next = rng.Int64N(n.every)
	n.clockS = s.ClockOffset.Seconds()
	n.gain = cmp.Or(s.COGain, 1)
	n.coNoise = cmp.Or(s.CONoisePPM, coNoisePPM)
	n.tmpNoise = cmp.Or(s.TempNoiseC, tempNoiseC)
	return n
}

func toStep(v, step float64) float64 { return math.Round(v/step) * step }

// sample measures the heater's surroundings at a tick.
func (n *node) sample(w *World) reading.Sample {
	h := n.heater
	drift := n.spec.DriftPPM * 1e-6 * float64(w.tick)
	s := reading.Sample{
		At:      w.now().AddSeconds(n.clockS + drift),
		Has:     reading.Flame | reading.Runtime | reading.CO | reading.Temp | n.spec.Sensors,
		Runtime: n.counter,
	}
	co := h.space.coPPM*n.gain + n.spec.COZeroPPM + n.coNoise*n.rng.NormFloat64()
	s.CO = float32(toStep(co, coStepPPM))
	s.Temp = float32(toStep(h.space.tempC+n.spec.TempOffsetC+n.tmpNoise*n.rng.NormFloat64(), tempStepC))
	n.more(&s, w.tick)
	return s
}

// more fills in what the optional sensors say.
func (n *node) more(s *reading.Sample, tick int64) {
	h := n.heater
	set := func(q reading.Quantity, on bool) {
		if on {
			s.On |= q & s.Has
		}
	}
	set(reading.Flame, h.phase == lit)
	set(reading.Supply, h.cuts == 0)
	set(reading.Call, h.call)
	if s.Carries(reading.Fuel) {
		s.Fuel = float32(toStep(max(h.fuelRatio(), 0), fuelStep))
	}
	left := max(1-n.spec.BatteryPerD*float64(tick)/(hoursInADay*secondsInHour), 0)
	switch {
	case s.Carries(reading.BatteryLevel):
		s.Battery = float32(toStep(left, 0.01))
	case s.Carries(reading.BatteryVolts):
		s.Battery = float32(toStep(batteryEmpty+left*(batteryFull-batteryEmpty), 0.01))
	}
}

// report takes the sample that is due and sends or keeps it.
func (w *World) report(n *node) {
	n.next += n.every
	if n.dead > 0 {
		n.open = true
		return
	}
	n.closeGap(w.tick)
	n.last = w.tick
	n.heater.seen()
	if n.cut > 0 {
		n.held = append(n.held, n.sample(w))
		return
	}
	w.publish(n, w.one(n.sample(w)))
}

func (n *node) closeGap(tick int64) {
	if n.open {
		n.gaps = append(n.gaps, gap{n.last, tick})
		n.open = false
	}
}

func (w *World) publish(n *node, samples []reading.Sample) {
	w.out = append(w.out, Message{
		Site: n.heater.site.spec.ID, Node: n.spec.ID, At: w.now(),
		Samples: samples, Within: n.spec.Interval,
	})
}

func (w *World) nodeDead(h *heater) {
	n := h.node
	n.dead++
	w.lose(n)
}

func (w *World) nodeAlive(h *heater) {
	h.node.dead--
	w.regain(h.node)
}

func (w *World) nodeCut(h *heater) {
	h.node.cut++
	w.lose(h.node)
}

// nodeBack ends an outage: the node publishes all it kept, oldest first.
func (w *World) nodeBack(h *heater) {
	n := h.node
	n.cut--
	w.regain(n)
	if n.cut > 0 {
		return
	}
	for len(n.held) > 0 {
		k := min(len(n.held), heldPerPack)
		w.publish(n, n.held[:k:k])
		n.held = n.held[k:]
	}
	n.held = nil
}

// lose lets the broker publish the node's will once it has missed it.
func (w *World) lose(n *node) {
	n.away++
	w.after(willAfterS*time.Second, func() {
		if n.away > 0 && !n.told {
			n.told = true
			w.say(n, "offline")
		}
	})
}

func (w *World) regain(n *node) {
	if n.away--; n.away == 0 && n.told {
		n.told = false
		w.say(n, "online")
	}
}

func (w *World) say(n *node, status string) {
	w.out = append(w.out, Message{Site: n.heater.site.spec.ID, Node: n.spec.ID, At: w.now(), Status: status})
}
