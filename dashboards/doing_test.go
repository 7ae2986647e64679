package dashboards

import (
	"testing"

	"heaterd/alerts/fold"
)

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
