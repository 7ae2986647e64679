// Package jobsite is a physical model of jobsites: halls and tents, the
// oil-fired heaters in them, the sensor nodes on the heaters and the people
// who refuel, switch and mend them. The demo, the tests and the labelled sets
// publish from it.
//
//	Spec ─NewWorld─▶ World ─Step─▶ []Message ─SenML─▶ MQTT
//	                   │   └─Acts─▶ []Act (refuels, planned stops)
//	                   ├─FleetYAML─▶ the configuration that matches
//	                   └─Truth─▶ what really happened, to judge others by
//	[]Message + []Act ─Deliver─▶ []capture.Line, as a recording has them
//
// Everything follows from a seed and a start instant: the same Spec gives the
// same bytes however the steps are cut. The package never reads a clock and
// does no input or output beyond the zone table of package time. A World is for
// one goroutine.
//
// The model is simple on purpose. A space is one well-mixed zone: it cools
// exponentially towards the outside (T' = (Ta−T)/τ + P/C) and its carbon
// monoxide follows the single-zone balance of the ASTM E741 decay technique,
// V·dC/dt = S − Q·(C−Cout). Changing the ventilation changes the CO balance
// only, not the cooling. Flames live on whole seconds, so a node's run-time
// counter and the truth agree to the second.
package jobsite
