package chart

import "heaterd/alerts/outcome"

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

func sign(ending string) string {
	for _, s := range signs {
		if s.Ending == ending {
			return s.SVG()
		}
	}
	return ""
}
