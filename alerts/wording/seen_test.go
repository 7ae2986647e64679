package wording

import (
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
)

// What stops several heaters of a site says in which rooms.
func TestStopsOfSeveralHeatersNameTheRooms(t *testing.T) {
	a := example(alarm.ShutdownUnexplained)
	a.Heater, a.Space, a.Findings.Heaters = "", "", []string{"H-07", "H-08", "H-11"}
	a.Findings.Seen = []alarm.Seen{
		{Heater: "H-07", Space: "hall", How: alarm.Unlit, Since: since}, {Heater: "H-08", Space: "hall", How: alarm.Silent, Since: since.Add(time.Minute)},
		{Heater: "H-11", Space: "store", How: alarm.Unlit, Since: since.Add(time.Minute)},
	}
	golden(t, "several.txt", whole(Of(a, quay(t))))
	if said := Line(Of(a, nil)); !strings.Contains(said, "hall, store, quay") {
		t.Errorf("of a site nobody knows: %s", said)
	}
}

// How the heaters stood when it was cold is not said of a space that is warm
// again.
func TestHowHeatersStoodIsOfThen(t *testing.T) {
	for state, value := range map[alarm.State]float64{alarm.Returned: 6, alarm.Unacknowledged: 5.2} {
		f := facts(t, alarm.SpaceCold)
		f.State, f.Value, f.Worst = state, value, 4.46
		_, text := Full(f)
		if !strings.Contains(text, "\n- H-07\n- H-08\n") || strings.Contains(text+english.Short(f), "out") {
			t.Errorf("%s at %g: %s\n%s", state, value, text, english.Short(f))
		}
	}
}

// A short message says how the heaters stand where there is room, and never at
// the cost of the names in it.
func TestAShortMessageNamesHeatersWhereThereIsRoom(t *testing.T) {
	f := facts(t, alarm.SpaceCold)
	f.Seen = f.Seen[:3]
	if short := english.Short(f); !strings.HasSuffix(short, ", 12 Jan 06:00 GMT. H-07 out, H-08 lit, H-09 silent.") {
		t.Error(short)
	}
	f.Seen = append(f.Seen, f.Seen...)
	if short := english.Short(f); !strings.HasSuffix(short, ", 12 Jan 06:00 GMT. 2 of 6 heaters seen lit.") {
		t.Error(short)
	}
	f.Site, f.Space = strings.Repeat("Quay Street ", 5), strings.Repeat("Main hall ", 4)
	bare := f
	bare.Seen = nil
	if english.Short(f) != english.Short(bare) {
		t.Errorf("%s; without heaters %s", english.Short(f), english.Short(bare))
	}
}
