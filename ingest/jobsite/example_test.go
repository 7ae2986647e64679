package jobsite_test

import (
	"fmt"
	"time"

	"heaterd/ingest/jobsite"
)

// A world is stepped, its messages published, and its truth compared with
// what somebody concluded from them.
func ExampleWorld_Step() {
	w, err := jobsite.NewWorld(jobsite.Demo(1, start))
	if err != nil {
		panic(err)
	}
	for _, m := range w.Step(30 * time.Second)[:2] {
		fmt.Println(m.At, m.Topic(), len(m.SenML()) > 0)
	}
	w.Step(15 * time.Minute)
	for _, b := range w.Truth().Heaters[6].Burns[:1] {
		fmt.Println("H-07 out:", b.Ending, "because of", b.Cause)
	}
	// Output:
	// 2026-01-12T00:00:00Z sites/quay/nodes/n-04/telemetry true
	// 2026-01-12T00:00:00Z sites/ridge/nodes/n-11/telemetry true
	// H-07 out: unexplained because of flame failure
}
