package burner_test

import (
	"fmt"
	"time"

	"heaterd/alerts/burner"
	"heaterd/ingest/reading"
)

// A heater burns from 06:00:20 to 06:03:10; its node is sampled each minute.
func ExampleState_Take() {
	var s burner.State
	o := burner.DefaultOptions()
	lit := []bool{false, true, true, true, false}
	counter := []float64{5003, 5043, 5103, 5163, 5173}
	for i := range lit {
		x := reading.Sample{At: at(float64(i) * 60), Has: reading.Flame | reading.Runtime, Runtime: counter[i]}
		if lit[i] {
			x.On = reading.Flame
		}
		var b burner.Burn
		if s.Take(&x, 0, time.Minute, t0, &o, &b) {
			fmt.Println(b.Start, b.End, b.Seconds)
		}
	}
	h := s.HoursAt(s.Last)
	fmt.Printf("%.0f s, %s, %d ignition\n", h.Hours*3600, h.Source, h.Ignitions)
	// Output:
	// 2026-01-12T06:00:20Z 2026-01-12T06:03:10Z 170
	// 170 s, both, 1 ignition
}
