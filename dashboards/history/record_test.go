package history

import (
	"testing"
	"time"

	protocol "github.com/influxdata/line-protocol"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

func at(node reading.NodeID, s reading.Sample) record.Line {
	s.At = reading.InstantOf(time.UnixMilli(1_768_210_200_123).Add(456 * time.Microsecond))
	return record.Line{ID: 7, Pack: &reading.Pack{Node: node, Samples: []reading.Sample{s}}}
}

func TestRecordsAreAsDocumented(t *testing.T) {
	whole := reading.Sample{
		Runtime: 1483200.25, CO: 12.5, Temp: -3.25, Fuel: 0.5, Battery: 0.75,
		Has: reading.Flame | reading.Runtime | reading.CO | reading.Temp | reading.Supply | reading.Call | reading.Fuel | reading.BatteryLevel,
		On:  reading.Flame | reading.Supply,
	}
	cases := []struct {
		name  string
		line  record.Line
		place Place
		want  string
	}{
		{
			"everything", at("n-07", whole), Place{"quay", "hall", "H-07"},
			"reading,heater=H-07,node=n-07,site=quay,space=hall battery_ratio=0.75,call=false,co_ppm=12.5,flame=true," +
				"fuel_ratio=0.5,runtime_s=1483200.25,supply=true,temp_celsius=-3.25 1768210200123",
		},
		{
			"whole numbers stay floats of the same type", at("n-07", reading.Sample{CO: 12, Has: reading.CO}), Place{},
			"reading,node=n-07 co_ppm=12 1768210200123",
		},
		{
			"volts", at("n-07", reading.Sample{Battery: 3.6, Has: reading.BatteryVolts}), Place{},
			"reading,node=n-07 battery_v=3.6 1768210200123",
		},
		{
			"odd names", at(`a b,c=d\`, reading.Sample{Has: reading.CO}), Place{Site: "x\ny"},
			`reading,node=a\ b\,c\=d/,site=x_y co_ppm=0 1768210200123`,
		},
		{"nothing sent", at("n-07", reading.Sample{}), Place{}, ""},
	}
	for _, c := range cases {
		got := entries(c.line, func(reading.NodeID, reading.Instant) Place { return c.place })
		switch {
		case c.want == "" && len(got) != 0:
			t.Errorf("%s: %v", c.name, got)
		case c.want != "" && (len(got) != 1 || got[0].text != c.want || got[0].line != 7):
			t.Errorf("%s:\n got %v\nwant %s", c.name, got, c.want)
		}
	}
}

// FuzzRecord has another hand's parser read what is written: whatever the
// names, it is one record with as many tags as there are names.
func FuzzRecord(f *testing.F) {
	f.Add("n-07", "quay", "hall", "H-07", float32(12.5), 1.5)
	f.Add("a b,c=d\\", "\n", "\xff\\", "\"", float32(-1), 1e300)
	f.Fuzz(func(t *testing.T, node, site, space, heater string, co float32, runtime float64) {
		l := at(reading.NodeID(node), reading.Sample{CO: co, Runtime: runtime, Has: reading.CO | reading.Runtime | reading.Flame})
		got := entries(l, func(reading.NodeID, reading.Instant) Place { return Place{site, space, heater} })
		if len(got) != 1 {
			t.Fatalf("%d records", len(got))
		}
		h := protocol.NewMetricHandler()
		h.SetTimePrecision(time.Millisecond)
		parsed, err := protocol.NewParser(h).Parse([]byte(got[0].text + "\n"))
		if err != nil || len(parsed) != 1 {
			t.Fatalf("%q: %v", got[0].text, err)
		}
		want := 0
		for _, s := range []string{node, site, space, heater} {
			if s != "" {
				want++
			}
		}
		if n := len(parsed[0].TagList()); n != want || parsed[0].Name() != measurement {
			t.Errorf("%q: %d tags, want %d", got[0].text, n, want)
		}
		if ms := parsed[0].Time().UnixMilli(); ms != 1_768_210_200_123 {
			t.Errorf("%q: time %d", got[0].text, ms)
		}
	})
}
