package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
	"strings"
	"time"
)

// The stranger is a second, cruder model of a site, written from the public
// formats alone: it shares nothing with the jobsites of the demo, so that
// what both get right is not an agreement between one model and itself.

type strangeHeater struct {
	id, node       string
	room           *strangeRoom
	on, off        float64
	thermo, lit    bool
	call           bool
	tank, fuel     float64
	rate           float64 // L/s
	counter, burnt float64
	start          int
	blocked        int // no light before
	mayLight       bool
	stop           int // planned until
	dark           int // node dead until
	darks          [][2]int
	buffer         int // node off the network until
	held           []strangeLine
	noSupply       int
	clock          int
	ends           []strangeEnd
	starts         int
	final          float64 // s burnt at the last line
	leaky          bool
	noRefuel       bool
	seen           int
	phase          int
}

type strangeEnd struct {
	start, end int
	why        string
	seen       int
}

type strangeRoom struct {
	id          string
	t, co       float64
	ach         float64
	gain, loss  float64
	source      float64
	peak        float64
	ppm         []float32
	heaters     []*strangeHeater
	twa15, twa8 float64
	sum15, sum8 float64
}

type stranger struct {
	nodeStyle
	rng      *rand.Rand
	rooms    []*strangeRoom
	heaters  []*strangeHeater
	lines    []strangeLine
	agenda   map[int][]func()
	now      int
	offDays  bool
	location *time.Location
	off      bool
}

var strangeStart = time.Date(2026, 3, 26, 6, 0, 0, 0, time.UTC) // over the change to summer time in Dublin

func newStranger(seed uint64, s nodeStyle) *stranger {
	if s.days == 0 {
		s.days = 6
	}
	w := &stranger{nodeStyle: s, rng: rand.New(rand.NewPCG(seed, 99)), agenda: map[int][]func(){}}
	w.location, _ = time.LoadLocation(s.zone)
	for r := range 3 {
		w.rooms = append(w.rooms, &strangeRoom{
			id: fmt.Sprintf("room%d", r), t: 9, co: 1, ach: 1 + float64(r), gain: 14, loss: 1.0 / 2.5, source: 0,
		})
	}
	for i := range 6 {
		w.addHeater(i)
	}
	return w
}

func (w *stranger) addHeater(i int) {
	h := &strangeHeater{
		id: fmt.Sprintf("H-%02d", i), node: fmt.Sprintf("n-%02d", i), room: w.rooms[i%3],
		thermo: i != 5, tank: 52, fuel: 52, rate: 4.4 / 3600, counter: w.counter, mayLight: true, call: true,
		phase: w.rng.IntN(w.every), leaky: i%3 == 1,
	}
	set, diff := 12.0, 2.0
	switch w.band {
	case 0:
		h.on, h.off = set-diff, set
	case 1:
		h.on, h.off = set-diff/2, set+diff/2
	default:
		h.on, h.off = set, set+diff
	}
	h.room.heaters = append(h.room.heaters, h)
	w.heaters = append(w.heaters, h)
	if w.refuel0 {
		w.write(0, fmt.Sprintf(`"entry":{"heater":%q,"task":"refuel","by":"Kim"}`, h.id))
	}
}

func (w *stranger) yaml() string {
	var b strings.Builder
	fmt.Fprintf(&b, "version: 1\nsites:\n  - id: quay\n    time_zone: %s\n    limits: us-niosh\n    activity: rest\n    spaces:\n", w.zone)
	for _, r := range w.rooms {
		fmt.Fprintf(&b, "      - { id: %s, volume_m3: 900, protect_above_c: 4 }\n", r.id)
	}
	if w.offDays {
		b.WriteString("    planned_off: [{ days: [sat, sun], from: \"18:00\", to: \"05:00\" }]\n")
	}
	b.WriteString("heaters:\n")
	for _, h := range w.heaters {
		fmt.Fprintf(&b, "  - id: %s\n    node: %s\n    site: quay\n    space: %s\n    burn_l_per_h: 4.4\n    tank_l: 52\n    hours_at_start: 100\n", h.id, h.node, h.room.id)
		if h.thermo {
			b.WriteString("    thermostat: { setpoint_c: 12, differential_c: 2 }\n")
		}
	}
	return b.String()
}

func (w *stranger) at(s float64) time.Time {
	return strangeStart.Add(time.Duration(s * float64(time.Second)))
}

func (w *stranger) write(s float64, body string) {
	w.lines = append(w.lines, strangeLine{s, body})
}

func (w *stranger) later(s int, f func()) { w.agenda[w.now+s] = append(w.agenda[w.now+s], f) }

func (w *stranger) outside() float64 {
	return -2 + 4*math.Sin(2*math.Pi*float64(w.now)/86400)
}

// scheduledOff is the site's planned hours: Saturday and Sunday evenings.
func (w *stranger) scheduledOff() bool {
	if !w.offDays {
		return false
	}
	t := w.at(float64(w.now)).In(w.location)
	h, d := t.Hour(), t.Weekday()
	evening := h >= 18 && (d == time.Saturday || d == time.Sunday)
	return evening || h < 5 && (d == time.Sunday || d == time.Monday)
}

func (w *stranger) out(h *strangeHeater, why string) {
	if !h.lit {
		return
	}
	h.lit = false
	h.ends = append(h.ends, strangeEnd{start: h.start, end: w.now, why: why, seen: h.seen})
	h.blocked = max(h.blocked, w.now+40)
}

func (w *stranger) step(h *strangeHeater) {
	if h.thermo {
		switch {
		case h.room.t >= h.off:
			h.call = false
		case h.room.t <= h.on:
			h.call = true
		}
	}
	off := w.off || h.stop > w.now
	supplied := h.noSupply <= w.now
	switch {
	case h.lit && h.fuel <= 0:
		w.out(h, "fuel-out")
		h.mayLight = false
		w.later(1800+w.rng.IntN(7200), func() { w.refill(h); h.mayLight, h.noRefuel = true, false })
	case h.lit && off:
		w.out(h, "planned")
	case h.lit && !h.call:
		w.out(h, "satisfied")
	case !h.lit && h.call && !off && supplied && h.mayLight && h.fuel > 0 && h.blocked <= w.now:
		h.lit, h.start, h.seen = true, w.now, 0
		h.starts++
	}
	if h.lit {
		h.counter++
		h.burnt++
		h.fuel -= h.rate
		if h.fuel < 0.2*h.tank && !h.noRefuel {
			h.noRefuel = true
			w.later(600+w.rng.IntN(1800), func() { w.tryRefill(h) })
		}
	}
}

// tryRefill waits for a heater under a thermostat to stop; the other one is
// switched off for the while, which is written down.
func (w *stranger) tryRefill(h *strangeHeater) {
	switch {
	case h.noRefuel && h.leaky && w.rng.IntN(3) == 0: // forgotten: it runs dry
	case h.lit && h.thermo:
		w.later(120, func() { w.tryRefill(h) })
	default:
		if h.lit {
			w.plan(h, 900, 0)
		}
		w.later(200, func() { w.refill(h); h.noRefuel = false })
	}
}

func (w *stranger) refill(h *strangeHeater) {
	h.fuel = h.tank
	w.write(float64(w.now+30), fmt.Sprintf(`"entry":{"heater":%q,"task":"refuel"}`, h.id))
}

// plan switches a heater off; the line is written lead seconds before.
func (w *stranger) plan(h *strangeHeater, d, lead int) {
	begins := w.now + max(lead, 0)
	line := func() {
		from := ""
		if w.now%2 == 0 { // some say when it begins, or began
			from = fmt.Sprintf(`"from":%q,`, w.at(float64(begins)).Format(time.RFC3339))
		}
		w.write(float64(w.now), fmt.Sprintf(`"planned_stop":{"heater":%q,%s"for":"%ds"}`, h.id, from, d))
	}
	act := func() { h.stop = w.now + d }
	if lead >= 0 {
		line()
		w.later(lead, act)
		return
	}
	act()
	w.later(-lead, line)
}

// events of a stranger's week, at random times.
func (w *stranger) script() {
	span := w.days*86400 - 30000
	some := func(n int, f func(h *strangeHeater)) {
		for range n {
			h := w.heaters[w.rng.IntN(len(w.heaters))]
			at, steady := 9000+w.rng.IntN(span-9000), 240+w.rng.IntN(800)
			w.agenda[at] = append(w.agenda[at], func() { w.whenLit(h, steady, f) })
		}
	}
	some(8, func(h *strangeHeater) { // lockout until somebody comes
		w.out(h, "unexplained")
		h.mayLight = false
		w.later(3600+w.rng.IntN(9000), func() { h.mayLight = true })
	})
	some(4, func(h *strangeHeater) { w.out(h, "unexplained") }) // relights by itself
	some(10, func(h *strangeHeater) { w.plan(h, 1800+w.rng.IntN(7200), w.rng.IntN(360)-180) })
	some(6, func(h *strangeHeater) { // the node dies and the flame goes out meanwhile, or not
		h.dark = w.now + 1800 + w.rng.IntN(7200)
		h.darks = append(h.darks, [2]int{w.now, h.dark})
	})
	some(5, func(h *strangeHeater) {
		if w.noTime {
			return
		}
		h.buffer = w.now + 1200 + w.rng.IntN(86400)
	})
	some(2, func(h *strangeHeater) { h.counter = 0 })
	some(1, func(h *strangeHeater) { h.counter = 3_333_333 })
	some(4, func(*strangeHeater) { // supply
		for _, g := range w.heaters {
			g.noSupply = w.now + 900 + 1
			if w.extras {
				w.out(g, "supply-lost")
				continue
			}
		}
		if !w.extras {
			w.together()
		}
	})
}

// together puts out every flame of the site.
func (w *stranger) together() {
	n := 0
	for _, g := range w.heaters {
		if g.lit {
			n++
		}
	}
	why := "site-wide"
	if n < 2 {
		why = "unexplained"
	}
	for _, g := range w.heaters {
		g.blocked = w.now + 900
		w.out(g, why)
	}
}

func (w *stranger) whenLit(h *strangeHeater, steady int, f func(*strangeHeater)) {
	if h.lit && w.now-h.start > steady {
		f(h)
		return
	}
	if w.now < w.days*86400-20000 {
		w.later(30, func() { w.whenLit(h, steady, f) })
	}
}

func (w *stranger) run() {
	w.script()
	for w.now = 0; w.now < w.days*86400; w.now++ {
		if w.now%60 == 0 {
			w.off = w.scheduledOff()
		}
		for _, f := range w.agenda[w.now] {
			f()
		}
		delete(w.agenda, w.now)
		for _, h := range w.heaters {
			w.step(h)
		}
		for _, r := range w.rooms {
			r.second(w.outside())
		}
		for _, h := range w.heaters {
			if w.now%w.every == h.phase {
				w.report(h)
			}
		}
	}
	for _, h := range w.heaters {
		if len(h.held) > 0 {
			w.empty(h)
			w.asOfNow()
		}
		h.unseen()
	}
	sort.SliceStable(w.lines, func(i, j int) bool { return w.lines[i].at < w.lines[j].at })
}

// unseen marks the ends that no node saw.
func (h *strangeHeater) unseen() {
	for i := range h.ends {
		for _, d := range h.darks {
			if e := &h.ends[i]; e.end >= d[0] && e.end <= d[1] {
				e.why = "unknown"
			}
		}
	}
}

func (r *strangeRoom) second(outside float64) {
	n := 0.0
	for _, h := range r.heaters {
		if h.lit {
			n++
		}
	}
	r.t += (outside + n*r.gain - r.t) * r.loss / 3600
	r.co += (n*12*(1+r.source) - r.ach*(r.co-1)) / 3600
	r.peak = max(r.peak, r.co)
	r.ppm = append(r.ppm, float32(r.co))
	r.sum15 += r.co
	r.sum8 += r.co
	if k := len(r.ppm) - 900; k > 0 {
		r.sum15 -= float64(r.ppm[k-1])
	}
	if k := len(r.ppm) - 28800; k > 0 {
		r.sum8 -= float64(r.ppm[k-1])
	}
	r.twa15, r.twa8 = max(r.twa15, r.sum15/900), max(r.twa8, r.sum8/28800)
}
