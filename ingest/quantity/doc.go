// Package quantity is the table of what a node can measure: the name on the
// wire, the units it may come in, and the range outside of which a value is a
// fault of the sensor or the wiring and not a reading.
//
//	Named("co") ─▶ Spec ─▶ Sample(0.000035, "/", …) ─▶ reading.Sample{CO: 35 ppm}
//
// It is pure. Both decoders use it, so a node is judged alike in either format.
package quantity
