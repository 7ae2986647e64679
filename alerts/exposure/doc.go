// Package exposure is the arithmetic of carbon monoxide in a space: averages
// against occupational limits, the estimated carboxyhaemoglobin of a person
// there, what is coming, which heater it goes with, and how fast the air
// changes. It is pure: values and instants in, values out.
//
// Readings are area readings of an add-on sensor: not a listed alarm and not
// anyone's personal exposure, and low CO does not prove safe air.
package exposure
