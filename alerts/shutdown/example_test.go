package shutdown_test

import (
	"fmt"
	"time"

	"heaterd/alerts/shutdown"
)

// A burn ended at 12.6 °C where the heater usually switches off at 14 °C, and
// the heater let it get colder than its thermostat allows.
func ExampleClassify() {
	e := ended()
	e.Burn.TempEnd = 12.6
	e.Lowest, e.HasLowest, e.Known = 6, true, 6*time.Hour
	o := shutdown.DefaultOptions()
	v := shutdown.Classify(e, &o)
	fmt.Println(v.Ending)
	for _, line := range v.Evidence {
		fmt.Println("-", line)
	}
	fmt.Println("first:", v.Checks[0])
	// Output:
	// unexplained
	// - it was 12.6 °C at the end; this heater usually switches off at 14.0 °C
	// - it then got 6.6 °C colder without lighting, past the differential of 2.0 °C
	// first: fuel level: look into the tank, and for water at its bottom
}
