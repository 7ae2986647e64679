package alerts_test

import (
	"context"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"heaterd/alerts"
	"heaterd/alerts/alarm"
	"heaterd/alerts/fold"
	"heaterd/alerts/ledger"
	"heaterd/ingest/record"
)

// Somebody looks at the pages while a start reads back what the ledger has
// seen: they see nothing, and the engine is not touched by two at once, which
// the race detector tells.
func TestNobodySeesHalfAResume(t *testing.T) {
	s := fresh(t)
	fill(t, s, work(time.Hour))
	follow(t, s)
	if _, err := s.Writer().Exec(`DELETE FROM snapshot`); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	w := alerts.New(alerts.Options{Log: s, Growth: noGrowth{cancel}, Ledger: ledger.New(s), Engine: fold.New(hall(), fold.DefaultRules()), Logger: quiet})
	if !w.Knows("spare") {
		t.Error("what a fitted node sends is refused before anybody can know it")
	}
	ended := make(chan error, 1)
	go func() { ended <- w.Run(ctx) }()
	for {
		select {
		case err := <-ended:
			if err != nil || w.View().At == 0 || w.Knows("spare") {
				t.Errorf("%v; at %v", err, w.View().At)
			}
			return
		default:
			if v := w.View(); v.At != 0 && w.Cursor() == 0 {
				t.Fatal("seen half")
			}
			_ = w.Now()
		}
	}
}

// Alarms of a heater, a space and a unit that are gone do not ring for ever.
func TestAlarmsEndWithWhatTheyAreOf(t *testing.T) {
	s := fresh(t)
	lines := work(2 * time.Hour) // 250 ppm in the hall meanwhile
	fill(t, s, append(lines, record.Line{At: lines[len(lines)-1].At.Add(3 * time.Hour)}))
	e, _ := follow(t, s)
	if len(e.View().Alarms) < 3 {
		t.Fatalf("%v", e.View().Alarms)
	}
	f := hall()
	f.Sites[0].Spaces[0].ID = "loft"
	f.Heaters = f.Heaters[:1]
	f.Heaters[0].Space, f.Heaters[0].ID = "loft", "H-9"
	body, err := e.Snapshot()
	if err != nil {
		t.Fatal(err)
	}
	g := fold.New(f, fold.DefaultRules())
	if err := g.Restore(body); err != nil {
		t.Fatal(err)
	}
	g.Step(record.Line{At: e.Now().Add(2 * time.Hour)})
	for _, a := range g.View().Alarms {
		if a.Active && (a.Space == "hall" || a.Heater != "" && a.Heater != "H-9") {
			t.Errorf("%s of %s %s still holds", a.Kind, a.Space, a.Heater)
		}
	}
}

// asked is a ledger that counts how often its alarms are read.
type asked struct {
	*ledger.Ledger
	times int
}

func (a *asked) LastAlarms(ctx context.Context) ([]alarm.Alarm, error) {
	a.times++
	return a.Ledger.LastAlarms(ctx)
}

// After an orderly stop the engine's memory has the alarms, and the ledger's,
// one for each place there ever was, are not read too.
func TestAnOrderlyStartReadsNoAlarms(t *testing.T) {
	s := fresh(t)
	fill(t, s, work(2*time.Hour))
	before, _ := follow(t, s)
	want := before.View().Alarms
	start := func() int {
		ctx, cancel := context.WithCancel(t.Context())
		defer cancel()
		e, l := fold.New(hall(), fold.DefaultRules()), &asked{Ledger: ledger.New(s)}
		w := alerts.New(alerts.Options{Log: s, Growth: noGrowth{cancel}, Ledger: l, Engine: e, Logger: quiet})
		if err := w.Run(ctx); err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(want, e.View().Alarms); d != "" || len(want) == 0 {
			t.Errorf("%d alarms (-before +after the start):\n%s", len(want), d)
		}
		return l.times
	}
	if n := start(); n != 0 {
		t.Errorf("read %d times", n)
	}
	if _, err := s.Writer().Exec(`DELETE FROM snapshot`); err != nil {
		t.Fatal(err)
	}
	if n := start(); n != 1 {
		t.Errorf("with no memory kept: read %d times, want once", n)
	}
}
