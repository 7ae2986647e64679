package dashboards_test

import (
	"testing"
)

func TestPagesShow(t *testing.T) {
	w := newWorld(t)
	for _, path := range []string{"/", "/alarms", "/alarms/quality", "/alarms/quay.hall.co-short-term.1", "/heaters/H-07", "/heaters/H-08", "/heaters/H-07?range=7d", "/heaters/H-07?range=season", "/heaters/H-07/label", "/sites/quay", "/sites/mill", "/nodes/n-07", "/nodes/zz", "/login"} {
		w.page(t, path)
	}
}
