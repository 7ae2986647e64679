package store_test

import (
	"slices"
	"time"

	"pgregory.net/rapid"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

func anyInstant() *rapid.Generator[reading.Instant] {
	return rapid.Map(rapid.Int64Range(-1e15, 4e15), func(i int64) reading.Instant { return reading.Instant(i) })
}

// anyValue mixes what sensors send, decimals, with every bit pattern there is.
func anyValue() *rapid.Generator[float64] {
	return rapid.OneOf(
		rapid.Map(rapid.IntRange(-2000, 200_000), func(i int) float64 { return float64(i) / 100 }),
		rapid.Float64Range(0, 1e9),
		rapid.SampledFrom([]float64{0, 1, 1e300, -1e-300}),
	)
}

func anySample(at reading.Instant) *rapid.Generator[reading.Sample] {
	return rapid.Custom(func(t *rapid.T) reading.Sample {
		s := reading.Sample{At: at, Has: reading.Quantity(rapid.Uint16Range(1, 1<<9-1).Draw(t, "has"))}
		s.Has &^= []reading.Quantity{reading.BatteryLevel, reading.BatteryVolts}[at&1] // a node sends one of the two
		s.On = reading.Quantity(rapid.Uint16().Draw(t, "on")) & s.Has & (reading.Flame | reading.Supply | reading.Call)
		short := func(q reading.Quantity) float32 {
			if s.Has&q == 0 {
				return 0
			}
			return float32(anyValue().Draw(t, "v"))
		}
		if s.Carries(reading.Runtime) {
			s.Runtime = anyValue().Draw(t, "runtime")
		}
		s.CO, s.Temp, s.Fuel = short(reading.CO), short(reading.Temp), short(reading.Fuel)
		s.Battery = short(reading.BatteryLevel | reading.BatteryVolts)
		return s
	})
}

func anySamples(base *rapid.Generator[reading.Instant], span time.Duration) *rapid.Generator[[]reading.Sample] {
	return rapid.Custom(func(t *rapid.T) []reading.Sample {
		start := base.Draw(t, "start")
		unit := rapid.SampledFrom([]int64{1, 1e3, 1e6}).Draw(t, "unit")
		offsets := rapid.SliceOfNDistinct(rapid.Int64Range(0, span.Microseconds()/unit), 0, 30, rapid.ID[int64]).Draw(t, "offsets")
		slices.Sort(offsets)
		var all []reading.Sample
		for _, o := range offsets {
			all = append(all, anySample(start+reading.Instant(o*unit)).Draw(t, "sample"))
		}
		return all
	})
}

func anyPack() *rapid.Generator[*reading.Pack] {
	return rapid.Custom(func(t *rapid.T) *reading.Pack {
		return &reading.Pack{
			Node:    reading.NodeID(rapid.SampledFrom([]string{"n-1", "n-2", "ünit", "n'3\"; --"}).Draw(t, "node")),
			Samples: anySamples(anyInstant(), 48*time.Hour).Draw(t, "samples"),
			Within:  time.Duration(rapid.Int64Range(0, 1e12).Draw(t, "within")),
			Ignored: rapid.IntRange(0, 1000).Draw(t, "ignored"),
		}
	})
}

func anyLine() *rapid.Generator[record.Line] {
	return rapid.Custom(func(t *rapid.T) record.Line {
		l := record.Line{At: anyInstant().Draw(t, "at")}
		word := rapid.String()
		switch rapid.IntRange(0, 9).Draw(t, "kind") {
		case 0:
		case 1:
			l.Status = &record.Status{Node: "n-9", Online: rapid.Bool().Draw(t, "online")}
			l.Retained = rapid.Bool().Draw(t, "retained")
		case 2:
			m, n := anyValue().Draw(t, "meter"), anyValue().Draw(t, "litres")
			l.Entry = &record.Entry{Heater: word.Draw(t, "h"), Task: word.Draw(t, "t"), Tasks: []string{word.Draw(t, "t2")},
				By: word.Draw(t, "by"), Note: word.Draw(t, "note"), MeterH: &m, Found: "x", Litres: &n, Node: "n-1"}
		case 3:
			l.Stop = &record.PlannedStop{Heater: word.Draw(t, "h"), For: time.Duration(rapid.Int64().Draw(t, "for")),
				From: anyInstant().Draw(t, "from"), End: rapid.Bool().Draw(t, "end")}
		case 4:
			l.Answer = &record.Answer{Act: record.Shelve, Alarm: word.Draw(t, "a"), By: word.Draw(t, "by"), For: time.Hour}
		case 9:
			l.Withdraw = &record.Withdrawal{Heater: word.Draw(t, "h"), Task: word.Draw(t, "t"), At: anyInstant().Draw(t, "written"), Why: word.Draw(t, "why")}
		case 5:
			l.Refused = &record.Refused{Topic: word.Draw(t, "t"), Node: "n-1", Reason: reading.BadUnit, Detail: word.Draw(t, "d")}
		default:
			l.Pack, l.Retained = anyPack().Draw(t, "pack"), rapid.Bool().Draw(t, "retained")
		}
		return l
	})
}
