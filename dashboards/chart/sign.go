package chart

import (
	"math"
	"slices"

	"heaterd/alerts/outcome"
)

// Sign is how an ending is marked: a shape, a letter and a word, so that no
// colour is needed to tell them apart.
type Sign struct {
	Ending string
	Letter string
	Word   string
	shape  string
}

var signs = []Sign{
	{string(outcome.Planned), "P", "planned", `<rect class="sign quiet" x="-7" y="-7" width="14" height="14"/>`},
	{string(outcome.SupplyLost), "S", "supply lost", `<path class="sign odd" d="M0 -8L8 7H-8Z"/>`},
	{string(outcome.FuelOut), "F", "fuel ran out", `<path class="sign odd" d="M0 8L8 -7H-8Z"/>`},
	{string(outcome.SiteWide), "W", "whole site", `<path class="sign odd" d="M-4 -8H4L8 0L4 8H-4L-8 0Z"/>`},
	{string(outcome.Unexplained), "X", "no known reason", `<path class="sign bad" d="M0 -9L9 0L0 9L-9 0Z"/>`},
	{string(outcome.Unknown), "?", "not seen", `<circle class="sign quiet" r="7"/>`},
}

// Signs lists how endings are marked. One that is not listed (the thermostat
// was satisfied) is the ordinary one and has no mark.
func Signs() []Sign { return signs }

// SVG is the mark alone.
func (s Sign) SVG() string {
	return s.shape + `<text class="letter" y="4" text-anchor="middle">` + s.Letter + `</text>`
}

// signOf gives the sign of an ending; ok is false for the ordinary one.
func signOf(ending string) (s Sign, ok bool) {
	i := slices.IndexFunc(signs, func(s Sign) bool { return s.Ending == ending })
	if i < 0 {
		return s, false
	}
	return signs[i], true
}

// signWidth is how wide a sign is, with a little room beside it.
const signWidth = 19

// drawSigns marks how burns ended. Of signs that cover each other the latest
// has its letter and lies on top; the others keep their shapes.
func (c *Chart) drawSigns(p *pen, y float64) {
	var under, over pen
	lettered := math.Inf(1)
	for _, b := range slices.Backward(c.Burns) {
		s, ok := signOf(b.Ending)
		if !ok || b.Open || b.To < c.From || b.To > c.To {
			continue
		}
		x, on, what := c.x(b.To), &under, s.shape
		if lettered-x >= signWidth {
			lettered, on, what = x, &over, s.SVG()
		}
		on.add(`<g transform="translate(%s %s)">%s</g>`, n(x), n(y), what)
	}
	p.add("%s%s", under.String(), over.String())
}
