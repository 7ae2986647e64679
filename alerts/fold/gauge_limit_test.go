package fold_test

import (
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/ingest/reading"
)

// A gauge in steps of 5 % that reads 15 % is at the limit of 15 %, and no hair
// above it for being kept in fewer bits.
func TestAGaugeAtTheLimitIsLow(t *testing.T) {
	p := failing(t)
	p.burnAs(time.Hour, "n-0", func(x *reading.Sample) { x.Has |= reading.Fuel; x.Fuel = 0.15 })
	for _, a := range p.engine.View().Alarms {
		if a.Kind == alarm.FuelLow && a.Active {
			if a.Value != a.Limit {
				t.Errorf("it reads %.12f beside a limit of %g", a.Value, a.Limit)
			}
			return
		}
	}
	t.Error("15 % is not told as low")
}
