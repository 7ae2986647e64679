// Package exposure is the arithmetic of carbon monoxide in a space: averages
// against occupational limits, the estimated carboxyhaemoglobin of a person
// there, what is coming, which heater it goes with, and how fast the air
// changes. It is pure: values and instants in, values out.
//
//	one node's CO ──▶ Sensor ──▶ Figures (averages, dose, coverage)
//	                    └──────▶ Forecast, Rising
//	a space's CO ───▶ Decay  ──▶ air changes per hour
//	            └───▶ Source ──▶ the heater the CO goes with
//
// Sensor, Decay and Source are plain values: copy one to keep it, compare two
// with ==, encode the exported fields to store it. The fields are for that
// and for nothing else; the methods are the interface. Samples must come in
// ascending order of the time they were measured; one that does not is
// passed over.
//
// # Missing data
//
// A stretch without readings longer than GapFactor times the expected
// interval is a gap. It counts in every average and in the dose at the
// higher of the two readings beside it, and as not measured in every
// coverage. Of one longer than GapHeldSeconds so much counts, at the earlier
// reading: what comes after begins as a record does, and the alarms say the
// same. At the open end the last reading is held and no average falls for
// want of readings: absence never clears.
//
// Readings are area readings of an add-on sensor: not a listed alarm and not
// anyone's personal exposure, and low CO does not prove safe air.
package exposure
