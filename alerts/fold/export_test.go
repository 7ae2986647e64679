package fold

import (
	"unsafe"

	"heaterd/alerts/service"
	"heaterd/ingest/reading"
)

// StateBytes is what a heater takes in memory: itself and its slices, mean
// over the fleet.
func StateBytes(e *Engine) int {
	sum := 0
	for _, h := range e.heaters {
		sum += int(unsafe.Sizeof(*h))
		sum += cap(h.Pending) * int(unsafe.Sizeof(pending{}))
		sum += len(h.Open)*int(unsafe.Sizeof(ended{})) + len(h.Told)*int(unsafe.Sizeof(ended{})) + cap(h.Recent)*int(unsafe.Sizeof(h.Recent[:1][0]))
		sum += cap(h.Air)*int(unsafe.Sizeof(airReading{})) + cap(h.stand)*int(unsafe.Sizeof(h.stand[:1][0]))
		if h.soft != nil {
			sum += int(unsafe.Sizeof(*h.soft))
		}
	}
	return sum / len(e.heaters)
}

// Trail is what is remembered of a burner's hours.
type Trail struct{ t trail }

// Follow goes on to an instant.
func (t *Trail) Follow(from, at reading.Instant, before, run float64) {
	if t.t.due(at) {
		t.t.follow(from, at, before, run)
	}
}

// Since gives how long the burner ran since an instant.
func (t *Trail) Since(at, begin, now reading.Instant, run float64) (low, est, high float64) {
	s := t.t.since(at, begin, now, run)
	return s.low, s.est, s.high
}

// Tank gives what is known of a heater's last filling, settled and live, and
// what was found at its visits.
func Tank(e *Engine, heater int) (settled, live Fill, found map[string]int) {
	h := e.heaters[heater]
	return h.Settled.Fill, h.Live.Fill, h.Fixes
}

// Book is a heater's settled service book.
func Book(e *Engine, heater int) service.Book { return e.heaters[heater].Work }

// Renew makes a heater's live copy anew.
func Renew(e *Engine, heater int) { e.heaters[heater].renew(e.now) }

// Notes is how many entries of a heater can be withdrawn.
func Notes(e *Engine, heater int) int { return len(e.heaters[heater].Journal.Notes) }

// Use is how many hours a day a heater ran.
func Use(e *Engine, heater int) service.Use { return e.heaters[heater].Use }
