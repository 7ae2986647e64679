package main

import (
	"github.com/grafana/grafana-foundation-sdk/go/cog"
	"github.com/grafana/grafana-foundation-sdk/go/common"
	"github.com/grafana/grafana-foundation-sdk/go/dashboard"
)

// sourceUID is the uid of the provisioned data source.
const sourceUID = "heaterd-prometheus"

// board is one dashboard.
type board struct {
	name, uid, title, about string
	from                    string // start of the time shown, as now-6h
	choices                 []choice
	rows                    []row
}

// row is a heading and the panels below it.
type row struct {
	title  string
	panels []panel
}

// choice is a variable at the top of the board.
type choice struct {
	name, label, query string
	many               bool
}

// build makes a dashboard of the classic schema: the newer one is written with
// options that Grafana does not take yet.
//
//lint:ignore SA1019 see above
func (b board) build() (dashboard.Dashboard, error) {
	//lint:ignore SA1019 see above
	builder := dashboard.NewDashboardBuilder(b.title).
		Uid(b.uid).Description(b.about).Tags([]string{"heaterd"}).
		Timezone("browser").Readonly().Refresh("30s").Time(b.from, "now").
		Tooltip(dashboard.DashboardCursorSyncCrosshair)
	for _, c := range b.choices {
		builder = builder.WithVariable(c.builder())
	}
	d, err := builder.Build()
	if err != nil {
		return d, err
	}
	d.Panels, err = b.panels()
	return d, err
}

func source() *common.DataSourceRef {
	return &common.DataSourceRef{Type: cog.ToPtr("prometheus"), Uid: cog.ToPtr(sourceUID)}
}

func (c choice) builder() *dashboard.QueryVariableBuilder {
	return dashboard.NewQueryVariableBuilder(c.name).Label(c.label).
		Datasource(*source()).Query(dashboard.StringOrMap{String: &c.query}).
		Refresh(dashboard.VariableRefreshOnTimeRangeChanged).Sort(dashboard.VariableSortAlphabeticalAsc).
		Multi(c.many).IncludeAll(c.many)
}

// columns is the width of Grafana's grid.
const columns = 24

// panels lays the rows out from top to bottom, each filled from the left, and
// numbers what stands in them.
func (b board) panels() ([]dashboard.PanelOrRowPanel, error) {
	var list []dashboard.PanelOrRowPanel
	id, y := uint32(0), uint32(0)
	for _, r := range b.rows {
		id++
		list = append(list, dashboard.PanelOrRowPanel{RowPanel: heading(r.title, id, y)})
		y++
		x, tallest := uint32(0), uint32(0)
		for _, p := range r.panels {
			if x+p.w > columns {
				x, y, tallest = 0, y+tallest, 0
			}
			id++
			built, err := p.build(id, dashboard.GridPos{X: x, Y: y, W: p.w, H: p.h})
			if err != nil {
				return nil, err
			}
			list = append(list, dashboard.PanelOrRowPanel{Panel: &built})
			x, tallest = x+p.w, max(tallest, p.h)
		}
		y += tallest
	}
	return list, nil
}

func heading(title string, id, y uint32) *dashboard.RowPanel {
	return &dashboard.RowPanel{
		Type: "row", Title: &title, Id: id, Panels: []dashboard.Panel{},
		GridPos: &dashboard.GridPos{Y: y, W: columns, H: 1},
	}
}
