package dashboards

import (
	"strings"
	"testing"

	"heaterd/alerts/fold"
	"heaterd/alerts/outcome"
)

// The fleet gives the reason that the heater's own page gives.
func TestTheFleetSaysWhyAHeaterIsOut(t *testing.T) {
	for why, want := range map[outcome.Ending]string{
		outcome.SiteWide: endingWords[outcome.SiteWide], outcome.Unexplained: endingWords[outcome.Unexplained], outcome.FuelOut: "out of fuel",
	} {
		h := fold.HeaterView{Heard: 1, Last: &outcome.Burn{Ending: why}}
		h.Node = "n-1"
		if got := doing(&h).Word; !strings.HasSuffix(got, want) {
			t.Errorf("%s is %q, want %q", why, got, want)
		}
	}
}

// A flame is not hidden behind a word of a person.
func TestALitHeaterIsSeen(t *testing.T) {
	for want, h := range map[stateWord]fold.HeaterView{
		outLit: {OutOfWork: true, Lit: true}, outOf: {OutOfWork: true}, lit: {Lit: true, Stop: true}, stopped: {Stop: true},
	} {
		h.Node, h.Heard = "n-1", 1
		if got := doing(&h); got != want {
			t.Errorf("%+v is %q, want %q", h, got.Word, want.Word)
		}
	}
}
