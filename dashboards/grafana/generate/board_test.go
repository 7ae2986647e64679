package main

import (
	"bytes"
	"encoding/json"
	"os"
	"regexp"
	"strings"
	"testing"
)

const (
	files = ".."
	rules = "../../../testdata/prometheus"
)

// shown is a dashboard as Grafana reads it.
type shown struct {
	UID        string
	Title      string
	Panels     []shownPanel
	Templating struct{ List []shownChoice }
}

type shownChoice struct {
	Name, Query string
	Datasource  shownSource
}

type shownSource struct{ Type, UID string }

type shownPanel struct {
	ID                       int
	Type, Title, Description string
	Datasource               shownSource
	GridPos                  struct{ X, Y, W, H int }
	Targets                  []struct {
		RefID, Expr string
		Datasource  shownSource
	}
	FieldConfig struct{ Defaults struct{ Unit string } }
	Options     struct {
		Legend  *struct{ ShowLegend bool }
		Tooltip *struct{ Mode string }
	}
	Panels []shownPanel
}

// read gives every dashboard as it is in the tree.
func read(t *testing.T) map[string]shown {
	t.Helper()
	all := map[string]shown{}
	for _, b := range boards() {
		body, err := os.ReadFile(files + "/" + b.name)
		if err != nil {
			t.Fatal(err)
		}
		var s shown
		if err := json.Unmarshal(body, &s); err != nil {
			t.Fatal(err)
		}
		all[b.name] = s
	}
	return all
}

func TestFilesAreWhatTheTablesSay(t *testing.T) {
	for _, b := range boards() {
		first, err := b.file()
		if err != nil {
			t.Fatal(err)
		}
		for range 5 {
			if again, _ := b.file(); !bytes.Equal(first, again) {
				t.Fatalf("%s: the same table gave different files", b.name)
			}
		}
		inTree, err := os.ReadFile(files + "/" + b.name)
		if err != nil || !bytes.Equal(first, inTree) {
			t.Errorf("%s is not as generated (%v): run go generate ./dashboards/grafana", b.name, err)
		}
	}
}

func TestPanelsStandInTheGrid(t *testing.T) {
	for name, d := range read(t) {
		taken := map[[2]int]string{}
		for _, p := range d.Panels {
			g := p.GridPos
			if g.X < 0 || g.W < 1 || g.H < 1 || g.X+g.W > columns {
				t.Errorf("%s: %q at %+v is outside of %d columns", name, p.Title, g, columns)
			}
			for x := g.X; x < g.X+g.W; x++ {
				for y := g.Y; y < g.Y+g.H; y++ {
					if other, ok := taken[[2]int{x, y}]; ok {
						t.Fatalf("%s: %q lies over %q", name, p.Title, other)
					}
					taken[[2]int{x, y}] = p.Title
				}
			}
			if len(p.Panels) > 0 {
				t.Errorf("%s: panels inside the open row %q are not shown", name, p.Title)
			}
		}
	}
}

func TestPanelsAreComplete(t *testing.T) {
	for name, d := range read(t) {
		ids := map[int]bool{}
		for _, p := range d.Panels {
			if p.ID == 0 || ids[p.ID] {
				t.Errorf("%s: %q has no id of its own", name, p.Title)
			}
			ids[p.ID] = true
			if p.Type == "row" {
				continue
			}
			if p.Title == "" || !strings.HasSuffix(p.Description, ".") || p.FieldConfig.Defaults.Unit == "" {
				t.Errorf("%s: %q lacks title, description or unit", name, p.Title)
			}
			hidden := p.Options.Legend != nil && !p.Options.Legend.ShowLegend && p.Type != "bargauge" // bars carry their names
			if hidden || p.Options.Tooltip != nil && p.Options.Tooltip.Mode == "" {
				t.Errorf("%s: %q hides legend or tooltip", name, p.Title)
			}
			checkTargets(t, name, p)
		}
	}
}

func checkTargets(t *testing.T, name string, p shownPanel) {
	t.Helper()
	refs := map[string]bool{}
	for _, q := range p.Targets {
		if q.RefID == "" || refs[q.RefID] || q.Datasource.UID != sourceUID || q.Expr == "" {
			t.Errorf("%s: %q has a query without a name, source or text: %+v", name, p.Title, q)
		}
		refs[q.RefID] = true
	}
	if len(p.Targets) == 0 || p.Datasource.UID != sourceUID {
		t.Errorf("%s: %q asks for nothing, or not from %s", name, p.Title, sourceUID)
	}
}

func TestPanelsAboutCOSayWhatItIsNot(t *testing.T) {
	for name, d := range read(t) {
		for _, p := range d.Panels {
			for _, q := range p.Targets {
				if strings.Contains(q.Expr, "heaterd_space_co_ppm") && !strings.Contains(p.Description, "not a listed alarm") {
					t.Errorf("%s: %q shows CO without a word about what an area reading is not", name, p.Title)
				}
			}
		}
	}
}

func TestBoardsHaveNamesOfTheirOwn(t *testing.T) {
	uids := map[string]bool{}
	for name, d := range read(t) {
		if d.UID == "" || uids[d.UID] || d.Title == "" {
			t.Errorf("%s: uid %q, title %q", name, d.UID, d.Title)
		}
		uids[d.UID] = true
	}
}

func TestProvisioningNamesTheSource(t *testing.T) {
	body, err := os.ReadFile(files + "/provisioning/datasources/heaterd.yml")
	if err != nil || !strings.Contains(string(body), "uid: "+sourceUID+"\n") {
		t.Errorf("the provisioned data source is not %s: %v", sourceUID, err)
	}
}

var (
	anyMetric = regexp.MustCompile(`\b(heaterd|go|process|promhttp)_[a-z0-9_]+`)
	recorded  = regexp.MustCompile(`[a-z_]+:heaterd_[a-z0-9_]+:[a-z0-9_]+`)
)

func TestQueriesAskForMetricsThatExist(t *testing.T) {
	recording, err := os.ReadFile(rules + "/recording.yml")
	if err != nil {
		t.Fatal(err)
	}
	page := known()
	for name, d := range read(t) {
		for _, expr := range d.queries() {
			for _, r := range recorded.FindAllString(expr, -1) {
				if !strings.Contains(string(recording), "record: "+r+"\n") {
					t.Errorf("%s: %s is recorded nowhere", name, r)
				}
			}
			for _, m := range anyMetric.FindAllString(recorded.ReplaceAllString(expr, ""), -1) {
				_, there := page[strings.TrimSuffix(m, "_bucket")]
				if strings.HasPrefix(m, "heaterd_") && !there {
					t.Errorf("%s: %s is no metric of the page", name, m)
				}
			}
		}
	}
}

// queries lists everything the dashboard asks for, choices included.
func (s shown) queries() []string {
	var list []string
	for _, c := range s.Templating.List {
		list = append(list, c.Query)
	}
	for _, p := range s.Panels {
		for _, q := range p.Targets {
			list = append(list, q.Expr)
		}
	}
	return list
}
