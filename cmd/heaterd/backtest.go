package main

import (
	"context"
	"net/http"
	"path/filepath"
	"time"

	"heaterd/alerts"
	"heaterd/alerts/alarm"
	"heaterd/alerts/fold"
	"heaterd/alerts/outcome"
	"heaterd/config"
	"heaterd/dashboards"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// sameAlarm is how far apart two alarms of one kind and place may begin and
// still count as the same one; common practice, no source.
const sameAlarm = 30 * time.Minute

// backtest tells the last days again to the configuration in force and to a
// proposed one, and gives the alarms that only one of them raises.
func (d *daemon) backtest(ctx context.Context, days int, text string) (dashboards.Backtest, error) {
	proposed, err := config.Parse("proposed.yaml", []byte(text), config.Options{Dir: filepath.Dir(d.cfg.Path)})
	if err != nil {
		return dashboards.Backtest{}, &dashboards.Problem{Status: http.StatusUnprocessableEntity, Text: err.Error()}
	}
	to := d.now()
	from := to.Add(-time.Duration(days) * 24 * time.Hour)
	now, then := newTrial(d.cfg), newTrial(proposed)
	err = alerts.Retell(ctx, d.store, nodesOf(d.cfg, proposed), from, to, func(l record.Line) {
		now.step(l)
		then.step(l)
	})
	if err != nil {
		return dashboards.Backtest{}, err
	}
	more, same := only(then.raised, now.raised)
	fewer, _ := only(now.raised, then.raised)
	return dashboards.Backtest{From: from, To: to, Same: same, More: more, Fewer: fewer}, nil
}

// trial is one configuration on trial.
type trial struct {
	engine *fold.Engine
	raised []outcome.Alarm
}

func newTrial(cfg *config.Config) *trial {
	return &trial{engine: fold.New(cfg.Fleet, rulesOf(cfg))}
}

func (t *trial) step(l record.Line) {
	for _, tr := range t.engine.Step(l).Transitions {
		if tr.To == alarm.Unacknowledged && tr.From == alarm.Normal {
			t.raised = append(t.raised, tr.Outcome())
		}
	}
}

func nodesOf(all ...*config.Config) []reading.NodeID {
	var out []reading.NodeID
	seen := map[reading.NodeID]bool{"": true}
	for _, cfg := range all {
		for _, h := range cfg.Fleet.Heaters {
			if !seen[h.Node] {
				seen[h.Node] = true
				out = append(out, h.Node)
			}
		}
	}
	return out
}

// only gives the alarms of one list that the other has none like, and counts
// the rest.
func only(these, those []outcome.Alarm) (alone []outcome.Alarm, same int) {
	used := make([]bool, len(those))
	for _, a := range these {
		if i := like(a, those, used); i >= 0 {
			used[i] = true
			same++
			continue
		}
		alone = append(alone, a)
	}
	return alone, same
}

func like(a outcome.Alarm, those []outcome.Alarm, used []bool) int {
	for i, b := range those {
		place := a.Kind == b.Kind && a.Site == b.Site && a.Space == b.Space && a.Heater == b.Heater
		if place && !used[i] && a.At.Sub(b.At).Abs() <= sameAlarm {
			return i
		}
	}
	return -1
}
