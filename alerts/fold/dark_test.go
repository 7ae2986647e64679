package fold_test

import (
	"testing"
	"time"

	"heaterd/alerts/fold"
	"heaterd/alerts/outcome"
	"heaterd/ingest/reading"
)

// Units that live from the mains fall silent with their heaters. Where all of a
// site do so in one moment, and no burner ran on by its counter until they are
// heard again, the mains were lost. A burner that ran on, or a unit that was
// heard, shows that it was but their word that was lost, and who lit a single
// one knows no more than that it fell silent.
func TestUnitsThatFallSilentWithTheirHeaters(t *testing.T) {
	for about, c := range map[string]struct {
		ran   time.Duration // of the second, after its last word
		heard bool          // a third one that is out
		lone  bool          // the second one has no unit
		want  outcome.Ending
	}{
		"all in one moment":           {want: outcome.SupplyLost},
		"all but the last moment":     {ran: 20 * time.Second, want: outcome.SupplyLost},
		"one of them ran on":          {ran: 25 * time.Minute, want: outcome.Unknown},
		"another was heard":           {heard: true, want: outcome.Unknown},
		"it is the only one heard of": {lone: true, want: outcome.Unknown},
	} {
		p := newPlay(t, 3)
		for i := range p.fleet.Heaters {
			p.fleet.Heaters[i].Thermostat, p.fleet.Heaters[i].TankL = nil, 0
		}
		p.engine = fold.New(p.fleet, fold.DefaultRules())
		lit := []reading.NodeID{"n-0", "n-1"}
		if c.lone {
			lit = lit[:1]
		}
		p.burn(time.Hour, lit...)
		p.run["n-1"] += c.ran.Seconds()
		if c.heard {
			p.idle(time.Hour, "n-2")
		} else {
			p.wait(time.Hour)
		}
		p.idle(3*time.Minute, lit...)
		p.burn(8*time.Hour, lit...)
		for _, b := range p.engine.Finish().Burns {
			if b.Heater == "H-0" && b.Start < p.now.Add(-9*time.Hour) && b.Ending != c.want {
				t.Errorf("%s: %s %q, want %s", about, b.Ending, b.Evidence, c.want)
			}
		}
	}
}
