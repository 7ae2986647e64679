// Package trust judges what a node says about itself by how it says it:
// silent nodes and sites, clocks that are wrong, CO sensors that are stuck,
// dead, lost or out of range. It is pure.
//
//	arrivals, stamps ─▶ Clock ────▶ offset to add to the node's stamps
//	instants ─────────▶ Cadence ──▶ expected interval, time until silent
//	CO readings ──────▶ COSensor ─▶ why a sensor is suspect
//
// All are plain values: copy one to keep it, encode the exported fields to
// store it; the methods are the interface and the fields are not.
//
// Nothing here ever makes the air look safer: a suspect sensor's readings
// count as they are, and a wrong clock moves readings in time, not in value.
package trust
