package chart

import (
	"fmt"
	"html"
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"
)

// pen writes SVG.
type pen struct{ strings.Builder }

func (p *pen) add(format string, args ...any) { fmt.Fprintf(&p.Builder, format, args...) }

// n writes a coordinate.
func n(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "0"
	}
	return strconv.FormatFloat(math.Round(v*10)/10, 'f', -1, 64)
}

// esc makes text from outside harmless. Characters that XML 1.0 (section 2.2)
// does not know become spaces.
func esc(s string) string {
	return html.EscapeString(strings.Map(func(r rune) rune {
		if r < ' ' || r == 0xFFFE || r == 0xFFFF {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, "?")))
}

// Draw gives the chart as an element to be put in a page. Everything taken
// from outside is escaped.
func (c *Chart) Draw() template.HTML {
	var p pen
	height := c.height()
	p.add(`<svg class="chart" viewBox="0 0 %s %s" role="img" aria-labelledby="%[3]s-t %[3]s-d" xmlns="http://www.w3.org/2000/svg">`,
		n(c.width()), n(height), esc(c.ID))
	p.add(`<title id="%s-t">%s</title><desc id="%[1]s-d">%[3]s</desc>`,
		esc(c.ID), esc(c.Title), esc(c.Desc))
	c.hatch(&p)
	c.drawAxis(&p, height-axisHeight)
	top := float64(topMargin)
	if c.Flame {
		c.drawStrip(&p, top)
		top += stripHeight + panelGap
	}
	for i := range c.Lines {
		c.drawPanel(&p, &c.Lines[i], top)
		top += panelHeight + panelGap
	}
	p.add(`</svg>`)
	return template.HTML(p.String()) //nolint:gosec // all texts were escaped above
}

func (c *Chart) height() float64 {
	h := float64(topMargin + axisHeight)
	if c.Flame {
		h += stripHeight + panelGap
	}
	return h + float64(len(c.Lines))*(panelHeight+panelGap) - panelGap/2
}

// hatch defines the pattern of stretches in which nothing was measured.
func (c *Chart) hatch(p *pen) {
	p.add(`<defs><pattern id="%s-h" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">`+
		`<line x1="0" y1="0" x2="0" y2="6" class="hatch"/></pattern></defs>`, esc(c.ID))
}

func (c *Chart) drawAxis(p *pen, bottom float64) {
	for _, t := range c.ticks() {
		x := c.x(t.at)
		class := "grid"
		if t.major {
			class = "grid day"
		}
		p.add(`<line class="%s" x1="%s" x2="%[2]s" y1="%d" y2="%s"/>`, class, n(x), topMargin, n(bottom))
		p.add(`<text class="label" x="%s" y="%s" text-anchor="%s">%s</text>`, n(x), n(bottom+14), c.anchor(x), esc(t.label))
	}
	p.add(`<text class="label" x="%s" y="%s" text-anchor="end">%s</text>`, n(c.width()-marginRight), n(bottom+32),
		esc("Times in "+ZoneName(c.Zone, c.From, c.To)))
}

// anchor keeps labels at the edges within the drawing.
func (c *Chart) anchor(x float64) string {
	switch {
	case x > c.width()-marginRight-24:
		return "end"
	case x < marginLeft+4:
		return "start"
	default:
		return "middle"
	}
}

func (c *Chart) drawStrip(p *pen, top float64) {
	bar := top + 18
	p.add(`<text class="label" x="0" y="%s">Flame</text>`, n(bar+15))
	p.add(`<rect class="strip" x="%d" y="%s" width="%s" height="20"/>`, marginLeft, n(bar), n(c.width()-marginLeft-marginRight))
	for _, s := range c.Shares {
		h := 20 * min(max(s.Lit, 0), 1)
		p.add(`<rect class="lit" x="%s" y="%s" width="%s" height="%s"/>`, n(c.x(s.From)), n(bar+20-h), n(max(0.5, c.x(s.To)-c.x(s.From)-0.5)), n(h))
	}
	for _, b := range c.Burns {
		p.add(`<rect class="lit" x="%s" y="%s" width="%s" height="20"/>`, n(c.x(b.From)), n(bar), n(max(0.7, c.x(b.To)-c.x(b.From))))
	}
	for _, u := range c.Unknown {
		p.add(`<rect x="%s" y="%s" width="%s" height="20" fill="url(#%s-h)"/>`, n(c.x(u.From)), n(bar), n(max(1, c.x(u.To)-c.x(u.From))), esc(c.ID))
	}
	c.drawSigns(p, top+8)
}

func (c *Chart) drawPanel(p *pen, l *Panel, top float64) {
	s := l.scale(top+c.head(l), top+panelHeight)
	p.add(`<text class="label name" x="%d" y="%s">%s</text>`, marginLeft, n(top+4), esc(l.Name+", "+l.Unit))
	for i := 0; ; i++ {
		v := s.firstTick() + float64(i)*s.step
		if v > s.high+s.step/2 || i > 12 {
			break
		}
		p.add(`<line class="grid" x1="%d" x2="%s" y1="%s" y2="%[3]s"/>`, marginLeft, n(c.width()-marginRight), n(s.y(v)))
		p.add(`<text class="label" x="%d" y="%s" text-anchor="end">%s</text>`, marginLeft-6, n(s.y(v)+4), strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64))
	}
	c.drawRuns(p, l, s)
	c.drawMarks(p, l, s)
}

// letterWidth is about how wide a letter of a label is.
const letterWidth = 5.8

// head is the room above a panel's scale: for its name, and below it for what
// lies off the scale where both do not fit beside each other.
func (c *Chart) head(l *Panel) float64 {
	const row = 18
	_, high, _ := l.extent()
	for _, m := range l.Marks {
		letters := len(l.Name) + len(l.Unit) + len(m.Name) + len(offScale) + 4
		if l.beyond(m, high) && float64(letters)*letterWidth > c.width()-marginLeft-marginRight {
			return row + 12
		}
	}
	return row
}

const offScale = ", above this scale"

// farOff is how many times the measured range, or the nearest mark, a mark
// may lie away and still stretch the scale: beyond it the values would be a
// flat line, so it is named at the edge instead.
const farOff = 2.5

func (l *Panel) scale(top, bottom float64) scale {
	low, high, any := l.extent()
	for _, m := range l.Marks {
		if !any {
			low, high, any = m.Value, m.Value, true
		}
		if !l.beyond(m, high) {
			low, high = min(low, m.Value), max(high, m.Value)
		}
	}
	if l.Unit == "ppm" {
		low = min(low, 0)
	}
	s := fitScale(low, high, l.Least, top, bottom)
	if l.Unit == "ppm" && low > -s.step { // a sensor's zero that is a little off: no air has less than none
		s.low = low
	}
	return s
}

// extent gives the lowest and highest value measured.
func (l *Panel) extent() (low, high float64, any bool) {
	for i, pt := range l.Points {
		if i == 0 {
			low, high = pt.Min, pt.Max
		}
		low, high = min(low, pt.Min), max(high, pt.Max)
	}
	return low, high, len(l.Points) > 0
}

// beyond reports whether a mark is too far above everything else to be drawn
// where it lies. The lowest mark always is drawn there.
func (l *Panel) beyond(m Mark, high float64) bool {
	lowest := m.Value
	for _, o := range l.Marks {
		lowest = min(lowest, o.Value)
	}
	return l.Unit == "ppm" && m.Value > lowest && m.Value > farOff*max(high, lowest)
}

// drawRuns draws the range of each unbroken run as an area and its mean as a
// line. A step without a reading ends a run.
func (c *Chart) drawRuns(p *pen, l *Panel, s scale) {
	for _, run := range l.runs() {
		var area, line strings.Builder
		half := l.Step / 2
		for i, pt := range run {
			op := "L"
			if i == 0 {
				op = "M"
			}
			line.WriteString(op + n(c.x(pt.At.Add(half))) + " " + n(s.y(pt.Mean)))
			area.WriteString(op + n(c.x(pt.At.Add(half))) + " " + n(s.y(pt.Max)))
		}
		for i := len(run) - 1; i >= 0; i-- {
			area.WriteString("L" + n(c.x(run[i].At.Add(half))) + " " + n(s.y(run[i].Min)))
		}
		if len(run) == 1 {
			p.add(`<circle class="dot" cx="%s" cy="%s" r="2"/>`, n(c.x(run[0].At.Add(half))), n(s.y(run[0].Mean)))
			continue
		}
		p.add(`<path class="range" d="%sZ"/><path class="line" d="%s"/>`, area.String(), line.String())
	}
}

func (l *Panel) runs() [][]Point {
	var out [][]Point
	for i, pt := range l.Points {
		if i == 0 || pt.At.Sub(l.Points[i-1].At) > l.Step+l.Step/2 {
			out = append(out, nil)
		}
		out[len(out)-1] = append(out[len(out)-1], pt)
	}
	return out
}

func (c *Chart) drawMarks(p *pen, l *Panel, s scale) {
	right, edge := c.width()-marginRight-2, s.top-12
	var taken []float64
	for _, m := range l.Marks {
		if m.Value > s.high+s.step/1e6 {
			p.add(`<text class="label marked" x="%s" y="%s" text-anchor="end">%s</text>`, n(right), n(edge), esc(m.Name+offScale))
			edge += 12
			continue
		}
		y := s.y(m.Value)
		p.add(`<line class="mark" x1="%d" x2="%s" y1="%s" y2="%[3]s"/>`, marginLeft, n(c.width()-marginRight), n(y))
		label := rowBeside(y, s.top, taken)
		taken = append(taken, label)
		p.add(`<text class="label marked" x="%s" y="%s" text-anchor="end">%s</text>`, n(right), n(label), esc(m.Name))
	}
}

// rowBeside gives the nearest place for the name of a line at y that covers
// neither another name nor the panel's own, which stands above the scale.
func rowBeside(y, top float64, taken []float64) float64 {
	for _, off := range []float64{-4, 12, -16, 24, -28, 36} {
		covers := func(t float64) bool { return math.Abs(t-y-off) < 11 }
		if y+off >= top+6 && !slices.ContainsFunc(taken, covers) {
			return y + off
		}
	}
	return y - 4
}
