package chart

import (
	"time"

	"heaterd/ingest/reading"
)

// Chart is what is drawn. Panels that are empty are left out.
type Chart struct {
	ID       string // of the element; letters, digits and hyphens
	Title    string
	Desc     string
	From, To reading.Instant
	Zone     *time.Location // nil: UTC
	Width    int            // units of the drawing, about CSS pixels; at least 280

	Flame   bool   // draw the flame's strip
	Burns   []Burn // in order of time
	Shares  []Share
	Unknown []Stretch // nothing was measured
	Lines   []Panel
}

// Stretch is a stretch of time.
type Stretch struct{ From, To reading.Instant }

// Burn is one lit period.
type Burn struct {
	Stretch
	Open   bool // still lit
	Ending string
}

// Share is how much of a stretch the flame was lit, 0 to 1: for charts too
// long for single burns.
type Share struct {
	Stretch
	Lit float64
}

// Panel is one quantity over time.
type Panel struct {
	Name   string
	Unit   string
	Points []Point // in order of time
	Step   time.Duration
	Marks  []Mark
	Least  float64 // least height of the scale, in Unit
}

// Point is the range of values in one step of time.
type Point struct {
	At             reading.Instant
	Min, Mean, Max float64
}

// Mark is a level to be seen beside the values.
type Mark struct {
	Value float64
	Name  string
}

// Sizes of the drawing, in its own units.
const (
	marginLeft  = 44
	marginRight = 12
	stripHeight = 46
	panelHeight = 132
	panelGap    = 30
	axisHeight  = 40
	topMargin   = 8
	leastWidth  = 280
)

func (c *Chart) width() float64 { return float64(max(c.Width, leastWidth)) }

// x places an instant.
func (c *Chart) x(i reading.Instant) float64 {
	share := i.Seconds(c.From) / max(c.To.Seconds(c.From), 1)
	return marginLeft + min(max(share, 0), 1)*(c.width()-marginLeft-marginRight)
}

func (c *Chart) zone() *time.Location {
	if c.Zone == nil {
		return time.UTC
	}
	return c.Zone
}
