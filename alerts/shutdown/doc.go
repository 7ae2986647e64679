// Package shutdown says why a burn ended, by evidence and never by default,
// and what many endings say together.
//
//	burner.Burn + what the site knows ─Classify─▶ Verdict{ending, evidence, checks}
//	[]Past  ─Repeating, NotHolding, SameAge, SameTime─▶ Pattern
//	[]Fault ─TrendOf─▶ Trend over burner hours
//
// An ending is judged twice: as soon as it is seen, so that somebody can be
// told, and again when the future can no longer change it. Evidence says how
// far the time after the ending is known, so the same rules serve both.
//
// Where nothing explains an ending it is unexplained and the checks are in
// order of what the evidence and earlier repairs suggest. A lockout is the
// heater's primary safety control doing its work (29 CFR 1926.154 asks for
// it): the checks find the cause; nothing here resets or bypasses it.
//
// The package is pure.
package shutdown
