package fold

import "unsafe"

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
