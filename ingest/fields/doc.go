// Package fields reads a node's own JSON: each quantity stands where a JSON
// pointer (RFC 6901) says, in the unit, scale and offset the mapping gives.
//
//	{"env":{"t_f":71.2,"co":3},"burner":"on"}
//	  temp   /env/t_f  Cel  scale 0.5556  offset -17.78
//	  co     /env/co   ppm
//	  flame  /burner
//
// A pointer to nothing means the quantity is absent, so is null. A value that
// cannot be is left out, and refuses the message only where there is no other.
// Keys the mapping does not point at are passed over.
//
// It is pure: the arrival time comes in as an option.
package fields
