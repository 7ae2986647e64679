package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
)

// This file holds the shape of the source tree: which package may import
// which, which packages are pure, and how packages are named and documented.
// A change that fails here is either in the wrong room or changes the shape;
// the second is a decision, made here and told in DEVELOPERS.md.

// row says what of the project a package may import. A name that ends in /
// stands for everything below it.
type row struct {
	pkg  string
	may  []string
	why  string
	pure bool // takes values and times in and gives values out, nothing else
}

// readings is what nearly everything speaks in.
const readings, records = "ingest/reading", "ingest/record"

var rows = []row{
	{"cmd/heaterd", []string{"config", "dashboards", "dashboards/", "alerts", "alerts/", "ingest", "ingest/"},
		"puts the daemon together, so it alone knows everything", false},
	{"config", []string{"alerts/fleet", "alerts/notify", "alerts/notify/text", "alerts/notify/webhook", "alerts/service", "alerts/exposure", "dashboards/access", "ingest/fields", "ingest/nearest", "ingest/quantity", readings, "ingest/source", "ingest/topic"},
		"turns YAML into the checked values of those who use them, and has senders check their keys and templates; it knows their types, never the other way round", false},

	{"dashboards", []string{"dashboards/", "alerts", "alerts/", "ingest", "ingest/"},
		"shows both; what it is told of the configuration comes as values", false},
	{"dashboards/", []string{"alerts", "alerts/", "ingest", "ingest/"},
		"each way of showing stands alone and reads what is kept; none knows another or the pages", false},

	{"alerts", []string{"alerts/alarm", "alerts/fleet", "alerts/fold", "alerts/ledger", "alerts/outcome", readings, records, "ingest/store"},
		"the loop: follows the log, folds it, commits", false},
	{"alerts/fleet", []string{"alerts/exposure", readings}, "a site has its limits", true},
	{"alerts/outcome", []string{readings}, "the public words, of values only", true},
	{"alerts/burner", []string{readings}, "burns come from samples", true},
	{"alerts/shutdown", []string{"alerts/burner", "alerts/fleet", "alerts/outcome", readings},
		"judges a burn by what the heater and its site are", true},
	{"alerts/exposure", []string{"alerts/trust", readings}, "air comes from samples as far as their sensor is believed", true},
	{"alerts/warmth", []string{readings}, "temperature comes from samples", true},
	{"alerts/service", []string{"alerts/outcome", readings}, "work is due by hours and dates", true},
	{"alerts/trust", []string{readings}, "doubts samples", true},
	{"alerts/alarm", []string{"alerts/outcome", readings, records}, "the life of an alarm, and what people answer", true},
	{"alerts/wording", []string{"alerts/alarm", "alerts/fleet", readings}, "puts an alarm of a site into words", true},
	{"alerts/fold", []string{"alerts/alarm", "alerts/burner", "alerts/exposure", "alerts/fleet", "alerts/outcome", "alerts/service",
		"alerts/shutdown", "alerts/trust", "alerts/warmth", "alerts/wording", readings, records},
		"the one place where the rules meet", true},
	{"alerts/ledger", []string{"alerts/alarm", "alerts/fleet", "alerts/outcome", readings, records, "ingest/store"},
		"keeps what the fold found, in the store's file", false},
	{"alerts/notify", []string{"alerts/alarm", "alerts/fleet", "alerts/fold", "alerts/ledger", "alerts/outcome", "alerts/wording", "alerts/notify/", "ingest/mqtt", readings, records},
		"plans who is told what, and hands over to the senders", false},
	{"alerts/notify/rota", []string{"alerts/notify", readings}, "who is on call is a matter of dates", true},
	{"alerts/notify/answerlink", nil, "signs and opens a link, told the time", true},
	{"alerts/notify/channels", []string{"alerts/notify", "alerts/notify/", "alerts/wording", "ingest/mqtt", readings},
		"makes the sender of each channel, so it alone knows all of them", false},
	{"alerts/notify/", []string{"alerts/alarm", "alerts/fleet", "alerts/ledger", "alerts/outcome", "alerts/wording", "alerts/notify", "alerts/notify/httpsend", "ingest/mqtt", readings, records},
		"a sender hands over one message and knows no other sender; those that speak HTTP do it one way", false},

	{"ingest", []string{"ingest/mqtt", readings, records, "ingest/source", "ingest/store"},
		"the loop: takes, decodes, keeps, acknowledges", false},
	{"ingest/reading", nil, "what a node said; leans on nothing", true},
	{"ingest/record", []string{readings}, "a line of the log", true},
	{"ingest/scan", []string{readings}, "JSON, refused in a reading's words", true},
	{"ingest/quantity", []string{readings}, "what can be measured, in which units", true},
	{"ingest/topic", nil, "MQTT's topics are text", true},
	{"ingest/nearest", nil, "words are text", true},
	{"ingest/senml", []string{"ingest/quantity", readings, "ingest/scan", "ingest/topic"}, "bytes to readings", true},
	{"ingest/fields", []string{"ingest/quantity", readings, "ingest/scan"}, "bytes to readings", true},
	{"ingest/source", []string{"ingest/fields", readings, records, "ingest/senml", "ingest/topic"}, "chooses the format by topic", true},
	{"ingest/capture", []string{readings, records, "ingest/scan"}, "a recording is lines of what arrived; it is given a reader", true},
	{"ingest/store", []string{readings, records}, "keeps lines; knows no rule", false},
	{"ingest/mqtt", []string{readings}, "stamps arrival, nothing more", false},
	{"ingest/mqtt/mqtttest", nil, "brokers and addresses for tests", false},
	{"ingest/broker", nil, "a broker", false},
	{"ingest/jobsite", []string{"ingest/capture", readings, records}, "invents readings and recordings of them; knows nothing that would judge them", false},
}

const module = "heaterd/"

// rowOf finds a package's own row, else that of the folder it is in.
func rowOf(pkg string) (row, bool) {
	for _, r := range rows {
		if r.pkg == pkg {
			return r, true
		}
	}
	for _, r := range rows {
		if strings.HasSuffix(r.pkg, "/") && strings.HasPrefix(pkg, r.pkg) {
			return r, true
		}
	}
	return row{}, false
}

func (r row) allows(pkg string) bool {
	return slices.ContainsFunc(r.may, func(m string) bool {
		return m == pkg || strings.HasSuffix(m, "/") && strings.HasPrefix(pkg, m)
	})
}

// impure is what a pure package must not import, because each is a way to
// the world outside its arguments.
var impure = []string{
	"os", "os/exec", "os/signal", "io/ioutil", "net", "net/http", "net/smtp", "database/sql",
	"log", "log/slog", "math/rand", "math/rand/v2", "crypto/rand", "syscall", "runtime", "testing",
}

// pkg is a package as the go command lists it.
type pkg struct {
	ImportPath, Dir, Name              string
	GoFiles, TestGoFiles, XTestGoFiles []string
	Imports, TestImports, XTestImports []string
}

// short is the import path within the module.
func (p pkg) short() string { return strings.TrimPrefix(p.ImportPath, module) }

// tree lists every package of the module, once.
var tree = sync.OnceValues(func() ([]pkg, error) {
	cmd := exec.Command("go", "list", "-json=ImportPath,Dir,Name,GoFiles,TestGoFiles,XTestGoFiles,Imports,TestImports,XTestImports", "./...")
	cmd.Dir = filepath.Join("..", "..")
	out, err := cmd.Output()
	if err != nil {
		return nil, fmt.Errorf("cannot list the packages: %w", err)
	}
	var all []pkg
	for d := json.NewDecoder(bytes.NewReader(out)); ; {
		var p pkg
		if err := d.Decode(&p); errors.Is(err, io.EOF) {
			return all, nil
		} else if err != nil {
			return nil, err
		}
		all = append(all, p)
	}
})

func packages(t *testing.T) []pkg {
	t.Helper()
	all, err := tree()
	if err != nil {
		t.Fatal(err)
	}
	if len(all) < 20 {
		t.Fatalf("only %d packages found", len(all))
	}
	return all
}

func ours(paths []string) []string {
	var out []string
	for _, p := range paths {
		if short, ok := strings.CutPrefix(p, module); ok {
			out = append(out, short)
		}
	}
	return out
}

func TestArrows(t *testing.T) {
	for _, p := range packages(t) {
		r, ok := rowOf(p.short())
		if !ok {
			t.Errorf("%s has no row: say in arch_test.go what it may import and why", p.short())
			continue
		}
		for _, i := range ours(p.Imports) {
			if !r.allows(i) && p.short() != i+"/"+path.Base(i)+"test" { // what helps to test a package may know it
				t.Errorf("%s imports %s; it may import %v, for it %s", p.short(), i, r.may, r.why)
			}
		}
	}
}

// Tests may lean on more than what they test does, but never upwards: a
// test of ingest that needs alerts tests something of alerts.
func TestArrowsOfTests(t *testing.T) {
	rooms := []string{"ingest", "alerts", "config dashboards", "cmd"}
	level := func(pkg string) int {
		room, _, _ := strings.Cut(pkg, "/")
		return slices.IndexFunc(rooms, func(r string) bool { return slices.Contains(strings.Fields(r), room) })
	}
	for _, p := range packages(t) {
		for _, i := range ours(slices.Concat(p.TestImports, p.XTestImports)) {
			if level(i) > level(p.short()) {
				t.Errorf("a test of %s imports %s, which lies above it", p.short(), i)
			}
		}
	}
}

// The table must not speak of what is gone.
func TestRowsStand(t *testing.T) {
	known := map[string]bool{}
	for _, p := range packages(t) {
		known[p.short()] = true
	}
	for _, r := range rows {
		if r.why == "" {
			t.Errorf("the row of %s gives no reason", r.pkg)
		}
		if !strings.HasSuffix(r.pkg, "/") && !known[r.pkg] {
			t.Errorf("there is a row for %s but no package", r.pkg)
		}
	}
}

func TestPure(t *testing.T) {
	for _, p := range packages(t) {
		r, _ := rowOf(p.short())
		if !r.pure || r.pkg != p.short() {
			continue
		}
		for _, i := range p.Imports {
			if slices.Contains(impure, i) {
				t.Errorf("%s is pure and must not import %s", p.short(), i)
			}
		}
		for _, i := range ours(p.Imports) {
			if on, _ := rowOf(i); !on.pure {
				t.Errorf("%s is pure and must not lean on %s, which is not", p.short(), i)
			}
		}
		for _, f := range parsed(t, p.Dir, p.GoFiles) {
			for _, c := range clockReads(f) {
				t.Errorf("%s is pure and must not use time.%s", f.position(c.Pos()), c.Sel.Name)
			}
		}
	}
}

// DEVELOPERS.md lists the pure packages for people; it must be this list.
func TestPureListIsTold(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "DEVELOPERS.md"))
	if err != nil {
		t.Fatal(err)
	}
	_, after, _ := strings.Cut(string(text), "<!-- pure -->")
	list, _, found := strings.Cut(after, "<!-- end -->")
	if !found {
		t.Fatal("DEVELOPERS.md has no list between <!-- pure --> and <!-- end -->")
	}
	told := strings.Fields(strings.ReplaceAll(list, "`", ""))
	var want []string
	for _, r := range rows {
		if r.pure {
			want = append(want, r.pkg)
		}
	}
	slices.Sort(want)
	if !slices.Equal(told, want) {
		t.Errorf("DEVELOPERS.md tells\n%v\nof pure packages, want in this order\n%v", told, want)
	}
}
