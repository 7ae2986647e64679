// Package chart draws what a heater or a space did over time as one SVG: the
// flame as a strip of bars whose endings are marked by shape and letter, CO
// with its limits, temperature with what it is kept between.
//
//	Chart ─Draw─▶ SVG text, in the colour of the text around it
//
// Times are drawn where they lie and labelled by the clock of the site's
// zone, so that a day of a clock change is 23 or 25 hours wide. Stretches in
// which nothing was measured are hatched; no line is drawn across them.
//
// The package is pure: the same chart gives the same bytes.
package chart
