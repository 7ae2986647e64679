package fold_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"heaterd/alerts/fleet"
	"heaterd/alerts/fold"
	"heaterd/ingest/reading"
)

// hut is a space with heaters, made up to see what is told of how it cools: air
// and walls as two bodies, weather, doors, thermostats, and sensors that are
// warmed by the heater they are strapped to.
type hut struct {
	rng         *rand.Rand
	air, wall   float64 // °C
	loss, walls float64 // kW/K
	airH, wallH float64 // kWh/K
	mean, swing float64 // °C outside
	wander      float64
	door        float64 // factor on the loss
	fade        float64 // factor on the heat
	burners     []burnerOf
	every       int // s between readings
	limit       float64
	off         func(hour float64) bool
}

type burnerOf struct {
	kw, on, off  float64
	lit          bool
	bias, warmed float64 // °C of its sensor, and by its own flame
	warm         float64
	noise, step  float64
	run          float64
}

func between(r *rand.Rand, a, b float64) float64 { return a + (b-a)*r.Float64() }

// newHut has heat for so many times what a cold night takes.
func newHut(seed uint64, margin float64) *hut {
	r := rand.New(rand.NewPCG(seed, 77))
	h := &hut{rng: r, loss: between(r, 0.4, 3), mean: between(r, -10, 6), swing: between(r, 2, 6), door: 1, fade: 1, limit: 5}
	tau := math.Exp(between(r, math.Log(2), math.Log(20)))
	whole := h.loss * tau
	h.airH = whole * between(r, 0.1, 0.3)
	h.wallH = whole - h.airH
	h.walls = h.loss * between(r, 2, 6)
	n := 1 + r.IntN(3)
	set := between(r, 9, 15)
	need := h.loss * (set - (h.mean - h.swing - 2))
	for i := range n {
		on := set - between(r, 0.5, 1.5)*float64(i)
		h.burners = append(h.burners, burnerOf{
			kw: need * margin / float64(n), on: on - between(r, 0.3, 1), off: on + between(r, 0.5, 1.5),
			bias: between(r, -1, 1), warmed: between(r, 0, 2), noise: between(r, 0.03, 0.15), step: []float64{0.1, 0.1, 0.5}[r.IntN(3)],
		})
	}
	h.every = []int{30, 30, 60, 120, 600}[r.IntN(5)]
	h.air, h.wall = set, set-2
	return h
}

func (h *hut) outside(hour float64) float64 {
	return h.mean - h.swing*math.Cos(2*math.Pi*(hour-5)/24) + h.wander
}

// minute advances everything by one minute, in steps of ten seconds.
func (h *hut) minute(hour float64) {
	keep := math.Exp(-1.0 / 60 / 24)
	h.wander = h.wander*keep + 2.5*math.Sqrt(1-keep*keep)*h.rng.NormFloat64()
	out := h.outside(math.Mod(hour, 24))
	for range 6 {
		heat := 0.0
		for i := range h.burners {
			b := &h.burners[i]
			switch {
			case h.off != nil && h.off(hour), h.air >= b.off:
				b.lit = false
			case h.air <= b.on:
				b.lit = true
			}
			to := 0.0
			if b.lit {
				heat += b.kw * h.fade
				b.run += 10
				to = b.warmed
			}
			b.warm += (to - b.warm) * (1 - math.Exp(-10.0/400))
		}
		const dt = 10.0 / 3600
		a := h.air
		h.air += dt / h.airH * (heat - h.loss*h.door*(a-out) - h.walls*(a-h.wall))
		h.wall += dt / h.wallH * h.walls * (a - h.wall)
	}
}

func (b *burnerOf) read(air float64, r *rand.Rand) float32 {
	return float32(math.Round((air+b.bias+b.warm+b.noise*r.NormFloat64())/b.step) * b.step)
}

// begin gives an engine that watches the hut.
func (h *hut) begin(t *testing.T, thermostats bool) *play {
	f := fleet.Fleet{Sites: []fleet.Site{{ID: "site-0", Name: "Site", Zone: time.UTC, Spaces: []fleet.Space{{ID: "hut", ProtectAboveC: &h.limit}}}}}
	for i, b := range h.burners {
		x := fleet.Heater{ID: fmt.Sprintf("H-%d", i), Node: reading.NodeID(fmt.Sprintf("n-%d", i)), Site: "site-0", Space: "hut"}
		if thermostats {
			x.Thermostat = &fleet.Thermostat{SetpointC: b.off, DifferentialC: b.off - b.on}
		}
		f.Heaters = append(f.Heaters, x)
	}
	return &play{t: t, fleet: f, now: benchStart, run: map[reading.NodeID]float64{}, engine: fold.New(f, fold.DefaultRules())}
}

// tell lets its units send what they read in a minute from the start, and gives
// the lowest of it.
func (h *hut) tell(p *play, minute int) (lowest float64) {
	lowest = math.Inf(1)
	for s := minute * 60; s < minute*60+60; s += 30 {
		p.now = benchStart.AddSeconds(float64(s))
		for i := range h.burners {
			if s%h.every != 0 {
				continue
			}
			b := &h.burners[i]
			x := reading.Sample{At: p.now, Has: reading.Flame | reading.Runtime | reading.Temp, Runtime: b.run, Temp: b.read(h.air, h.rng)}
			if b.lit {
				x.On = reading.Flame
			}
			lowest = min(lowest, float64(x.Temp))
			p.send(p.fleet.Heaters[i].Node, x)
		}
	}
	return lowest
}
