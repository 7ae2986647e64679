package main

import (
	"fmt"

	"github.com/grafana/grafana-foundation-sdk/go/bargauge"
	"github.com/grafana/grafana-foundation-sdk/go/cog"
	"github.com/grafana/grafana-foundation-sdk/go/cog/variants"
	"github.com/grafana/grafana-foundation-sdk/go/common"
	"github.com/grafana/grafana-foundation-sdk/go/dashboard"
	"github.com/grafana/grafana-foundation-sdk/go/prometheus"
	"github.com/grafana/grafana-foundation-sdk/go/stat"
	"github.com/grafana/grafana-foundation-sdk/go/statetimeline"
	"github.com/grafana/grafana-foundation-sdk/go/timeseries"
)

// kind is how a panel shows its figures.
type kind int

const (
	lines  kind = iota // over time
	stacks             // over time, added up
	number             // now, large
	bars               // now, one bar each
	states             // over time, as coloured stretches
)

// panel is one panel of a board.
type panel struct {
	title, about string
	kind         kind
	unit         string
	w, h         uint32
	queries      []query
	min, max     *float64
	steps        []step            // colours by value, ascending; the first value counts for everything below
	words        map[string]string // values by name
}

type query struct{ expr, legend string }

type step struct {
	from  float64
	color string
}

// instant says that the panel shows the newest value only.
func (k kind) instant() bool { return k == number || k == bars }

// build makes the panel and fills in what the library leaves out.
func (p panel) build(id uint32, at dashboard.GridPos) (dashboard.Panel, error) {
	built, err := p.bare().Build()
	if err != nil {
		return built, fmt.Errorf("cannot build panel %q: %w", p.title, err)
	}
	built.Id, built.GridPos, built.Datasource = &id, &at, source()
	built.Title, built.Description = &p.title, &p.about
	for i, q := range p.queries {
		built.Targets = append(built.Targets, q.target(i, p.kind.instant()))
	}
	if built.FieldConfig == nil {
		built.FieldConfig = &dashboard.FieldConfigSource{}
	}
	if built.FieldConfig.Overrides == nil {
		built.FieldConfig.Overrides = []dashboard.DashboardFieldConfigSourceOverrides{}
	}
	p.look(&built.FieldConfig.Defaults)
	return built, nil
}

// bare makes a panel of the kind with nothing in it.
func (p panel) bare() cog.Builder[dashboard.Panel] {
	switch p.kind {
	case number:
		return stat.NewPanelBuilder().ReduceOptions(newest()).ColorMode(common.BigValueColorModeValue).
			GraphMode(common.BigValueGraphModeNone).TextMode(common.BigValueTextModeAuto)
	case bars:
		return bargauge.NewPanelBuilder().ReduceOptions(newest()).Orientation(common.VizOrientationHorizontal).
			DisplayMode(common.BarGaugeDisplayModeBasic)
	case states:
		return statetimeline.NewPanelBuilder().Legend(legend()).Tooltip(tooltip()).
			MergeValues(true).ShowValue(common.VisibilityModeAuto).RowHeight(0.8)
	case stacks:
		return graph().DrawStyle(common.GraphDrawStyleLine).FillOpacity(30).
			Stacking(common.NewStackingConfigBuilder().Mode(common.StackingModeNormal).Group("A"))
	default:
		return graph().DrawStyle(common.GraphDrawStyleLine).FillOpacity(5)
	}
}

func graph() *timeseries.PanelBuilder {
	return timeseries.NewPanelBuilder().Legend(legend()).Tooltip(tooltip()).LineWidth(1).
		ShowPoints(common.VisibilityModeNever)
}

func newest() cog.Builder[common.ReduceDataOptions] {
	return common.NewReduceDataOptionsBuilder().Calcs([]string{"lastNotNull"}).Values(false)
}

func legend() cog.Builder[common.VizLegendOptions] {
	return common.NewVizLegendOptionsBuilder().ShowLegend(true).
		DisplayMode(common.LegendDisplayModeList).Placement(common.LegendPlacementBottom)
}

func tooltip() cog.Builder[common.VizTooltipOptions] {
	return common.NewVizTooltipOptionsBuilder().Mode(common.TooltipDisplayModeMulti).Sort(common.SortOrderDescending)
}

func (q query) target(i int, instant bool) variants.Dataquery {
	return prometheus.Dataquery{
		Expr: q.expr, LegendFormat: &q.legend, RefId: cog.ToPtr(string(rune('A' + i))),
		Instant: &instant, Range: cog.ToPtr(!instant), Datasource: source(),
	}
}

// look sets unit, range and colours.
func (p panel) look(c *dashboard.FieldConfig) {
	c.Unit, c.Min, c.Max = &p.unit, p.min, p.max
	c.Color = &dashboard.FieldColor{Mode: dashboard.FieldColorModeIdPaletteClassic}
	c.Thresholds = &dashboard.ThresholdsConfig{Mode: dashboard.ThresholdsModeAbsolute, Steps: []dashboard.Threshold{{Color: "text"}}}
	if len(p.steps) > 0 {
		c.Color.Mode = dashboard.FieldColorModeIdThresholds
		c.Thresholds.Steps = p.thresholds()
	}
	if len(p.words) > 0 {
		c.Mappings = []dashboard.ValueMapping{{ValueMap: p.mapping()}}
	}
}

func (p panel) thresholds() []dashboard.Threshold {
	var list []dashboard.Threshold
	for i, s := range p.steps {
		t := dashboard.Threshold{Color: s.color}
		if i > 0 {
			t.Value = cog.ToPtr(s.from)
		}
		list = append(list, t)
	}
	return list
}

func (p panel) mapping() *dashboard.ValueMap {
	m := &dashboard.ValueMap{Type: "value", Options: map[string]dashboard.ValueMappingResult{}}
	for value, word := range p.words {
		m.Options[value] = dashboard.ValueMappingResult{Text: &word}
	}
	return m
}
