package dashboards

import (
	"strings"
	"testing"
	"time"

	"heaterd/alerts/fold"
	"heaterd/alerts/outcome"
	"heaterd/ingest/reading"
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

// Of a heater that fell silent lit nobody knows whether it burns still.
func TestABurnIsDrawnAsFarAsItWasSeen(t *testing.T) {
	for silent, want := range map[bool]reading.Instant{true: 20, false: 100} {
		h := fold.HeaterView{Lit: true, LitSince: 10, LitSeen: 20, Silent: silent}
		if all, _ := strip(&h, nil, nil, time.Minute, 100); len(all) != 1 || all[0].To != want {
			t.Errorf("silent %v: %+v, want it drawn to %d", silent, all, want)
		}
	}
}
