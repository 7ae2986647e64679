package fold

import "unsafe"

// StateBytes is what a heater takes in memory: itself and its slices, mean
// over the fleet.
func StateBytes(e *Engine) int {
	sum := 0
	for _, h := range e.heaters {
		sum += int(unsafe.Sizeof(*h))
		sum += cap(h.Pending)*int(unsafe.Sizeof(pending{})) + cap(h.ending)*int(unsafe.Sizeof(ended{}))
		sum += len(h.Open)*int(unsafe.Sizeof(ended{})) + len(h.Told)*int(unsafe.Sizeof(ended{})) + cap(h.Recent)*int(unsafe.Sizeof(h.Recent[:1][0]))
		sum += cap(h.Air)*int(unsafe.Sizeof(airReading{})) + cap(h.stand)*int(unsafe.Sizeof(h.stand[:1][0]))
		if h.soft != nil {
			sum += int(unsafe.Sizeof(*h.soft))
		}
	}
	return sum / len(e.heaters)
}

// Sizes tells the parts of a heater, for the bench's report.
func Sizes() map[string]uintptr {
	var h heater
	return map[string]uintptr{
		"heater": unsafe.Sizeof(h), "witness": unsafe.Sizeof(h.Settled), "burner": unsafe.Sizeof(h.Settled.Burner),
		"air": unsafe.Sizeof(h.Settled.Air), "warm": unsafe.Sizeof(h.Settled.Warm), "habit": unsafe.Sizeof(h.Settled.Habit),
		"ended": unsafe.Sizeof(ended{}), "decay": unsafe.Sizeof(h.Decay), "use": unsafe.Sizeof(h.Use), "work": unsafe.Sizeof(h.Work),
		"clock": unsafe.Sizeof(h.Clock), "cell": unsafe.Sizeof(h.Settled.Cell), "every": unsafe.Sizeof(h.Settled.Every), "judged": unsafe.Sizeof(h.Judged),
		"pending": unsafe.Sizeof(pending{}),
	}
}
