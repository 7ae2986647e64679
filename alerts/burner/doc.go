// Package burner adds up how long a heater's burner has run, with bounds that
// hold whatever happened while nobody saw, and finds each burn with the
// instants between which it began and ended.
//
//	reading.Sample ─Apply─▶ State ─HoursAt─▶ Hours{est, low, high}
//	                  │        └───Current─▶ the burn in progress
//	                  └─▶ Burn, when one has ended
//
// Two witnesses are heard. The node's cumulative counter tells how much was
// burned between any two of its readings, across any silence, as long as it
// neither restarted nor jumped. The flame tells at which samples it was lit.
// Where they agree the counter is exact; where they contradict each other
// the bounds span both and a jump is noted; where one is missing the other
// carries on.
//
// A counter that reads less than before has restarted (or another unit was
// fitted); one that gained more than the time that passed has jumped. Neither
// is believed until a second reading confirms it, so that a single wild value
// changes nothing; one that the time allowed for is passed over once the next
// follows the reading before it (Prior). One that was seen to fall to a value it
// had saved may have done so in any silence (Fall), and one that begins at 0 after
// a silence is laid to the unit's power. One that runs on while the flame is out,
// or runs slow, may pass in each single interval, for rounding or for a burn that
// nobody saw; what passed adds up (Strife) until it is more than rounding and
// chance explain. One that runs on after each stop counts the fan (Tail), and one
// whose purge is shorter than the time between samples does it now and then (Purge).
// One that stands still at once after the stops proves that a flame which a sample
// did not see burned on (RanThrough). One that runs fast gains more than the time that passes while the flame burns:
// once that is certain its rate is taken out of all it told (Rate).
//
// What the bounds assume: a flame seen at both ends of one regular interval
// burned through it, and a flame absent at both ends did not, unless the
// counter says otherwise.
//
// State is a plain value: assigning it copies it. It is not safe for
// concurrent use. The package is pure.
package burner
