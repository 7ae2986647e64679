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

// Of a heater that fell silent lit, or whose unit was taken off or changed,
// nobody knows whether it burns still.
func TestABurnIsDrawnAsFarAsItWasSeen(t *testing.T) {
	for _, one := range []struct {
		h    fold.HeaterView
		want reading.Instant
	}{
		{fold.HeaterView{Silent: true}, 20}, {fold.HeaterView{Fitted: 30}, 20}, {fold.HeaterView{}, 100},
	} {
		one.h.Node, one.h.Lit, one.h.LitSince, one.h.LitSeen = "n-1", true, 10, 20
		if all, _ := strip(&one.h, nil, nil, time.Minute, 100); len(all) != 1 || all[0].To != one.want {
			t.Errorf("%+v: %+v, want it drawn to %d", one.h, all, one.want)
		}
		one.h.Node = ""
		if all, _ := strip(&one.h, nil, nil, time.Minute, 100); len(all) != 1 || all[0].To != 20 {
			t.Errorf("no unit: %+v, want it drawn to 20", all)
		}
	}
}
