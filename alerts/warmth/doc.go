// Package warmth watches the temperature of a space: too cold or too hot for
// what is in it, how fast it cools when the heat stops, and how long until it
// reaches its limit then. It is pure.
//
//	temperature, flame ──▶ State ──▶ Cold, Hot
//	                         └─────▶ Outlook: early, likely and late time to harm
//
// A space is taken as one body that loses heat to one outdoor temperature,
// T(t) = Ta + (T0−Ta)·e^(−t/τ). Both τ and Ta are learned from its own
// coolings, and where they are not known the outlook says less instead of
// guessing. Air temperature is only a proxy for what is to be protected:
// concrete, pipes and finishes are warmer or colder than the air beside them.
//
// State is a plain value: copy one to keep it, encode the exported fields to
// store it; the methods are the interface.
package warmth
