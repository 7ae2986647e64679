package main

import (
	"github.com/grafana/grafana-foundation-sdk/go/cog"
	"github.com/grafana/grafana-foundation-sdk/go/units"
)

// Units of Grafana.
const (
	unitNone    = units.Short
	unitPPM     = units.PartsPerMillion
	unitRatio   = units.PercentUnit
	unitCelsius = units.Celsius
	unitSeconds = units.Seconds
	unitSpan    = units.DurationSeconds
	unitAgo     = units.DateTimeFromNow
	unitBytes   = units.BytesIEC
	unitRate    = units.CountsPerSecond
)

// Colours mean the same on every board: good, look at it, act. A word or a
// number stands beside every colour.
const (
	good = "green"
	look = "orange"
	act  = "red"
)

// area is said wherever CO is shown.
const area = " Area readings of add-on sensors: not a listed alarm and nobody's personal exposure; low CO does not prove safe air."

var zero, one = cog.ToPtr(0.0), cog.ToPtr(1.0)

// fromOne colours a count of which every one wants a look.
func fromOne(color string) []step { return []step{{0, good}, {1, color}} }

// mustBe colours what must be 1, mustNot what must be 0.
var (
	mustBe  = []step{{0, act}, {1, good}}
	mustNot = []step{{0, good}, {1, look}}
)

func q(expr, legend string) query { return query{expr, legend} }
func single(expr string) []query  { return []query{{expr, ""}} }
