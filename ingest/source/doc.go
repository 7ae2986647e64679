// Package source ties a topic filter to the format of what is published there
// and to where the node's name stands.
//
//	topic ─Pick─▶ Source ─Decode──────▶ reading.Pack
//	                     └DecodeStatus─▶ record.Status
//
// The topic's word about the node beats the payload's: where both tell one and
// they differ, the message is refused, because a reading filed under another
// heater is worse than none.
//
// It is pure: the arrival time comes in as an argument.
package source
