package config

import (
	"bytes"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"gopkg.in/yaml.v3"

	"heaterd/alerts/notify/text"
)

// everySetting gives any variable a value.
func everySetting(string) (string, bool) { return "set", true }

func TestReferenceIsRight(t *testing.T) {
	cfg, err := Parse("reference.yaml", []byte(Reference), Options{Getenv: everySetting})
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range cfg.Warnings {
		if w.Path != "embedded_broker" { // documented beside the broker that makes it idle
			t.Errorf("unexpected warning: %s", w)
		}
	}
	if err := cfg.Ready(); err != nil {
		t.Error(err)
	}
}

func TestReferenceNamesEveryKeyTheReaderKnows(t *testing.T) {
	root, problem := readDocument("reference.yaml", []byte(Reference))
	if problem != nil {
		t.Fatal(problem)
	}
	_, r := read("reference.yaml", root, Options{Getenv: everySetting})
	written := map[string]bool{}
	collectKeys(root, "", written)
	for _, key := range alternatives() {
		written[key] = true
	}
	for key := range r.asked {
		if !written[key] {
			t.Errorf("the reader knows %s but reference.yaml does not name it", key)
		}
	}
	for key := range written {
		if !r.asked[key] {
			t.Errorf("reference.yaml names %s but the reader never asks for it", key)
		}
	}
	t.Logf("%d keys", len(written))
}

// alternatives are the keys in lines that begin with #|, with their place.
func alternatives() []string { return []string{"service_plan", "on_call.calendar"} }

func TestReferenceAlternativesAreRight(t *testing.T) {
	swap := strings.NewReplacer("#| service_plan", "service_plan", "#|calendar", "  calendar").Replace(Reference)
	swap = cutBlock(cutBlock(swap, "service_plan:\n"), "  turns:")
	if strings.Contains(swap, "\n#|") {
		t.Fatal("an alternative is not tried here")
	}
	if _, err := Parse("swapped.yaml", []byte(swap), Options{Getenv: everySetting}); err != nil {
		t.Fatal(err)
	}
}

// TestInstalledExampleIsRight reads the example that the package installs, as
// it stands and with its alternatives. Those who copy it start from what it
// says, so nothing in it may be doubtful.
func TestInstalledExampleIsRight(t *testing.T) {
	raw, err := os.ReadFile("../testdata/packaging/heaterd.yaml.example")
	if err != nil {
		t.Fatal(err)
	}
	swap := strings.NewReplacer("#| calendar", "  calendar", "#| ", "").Replace(string(raw))
	swap = cutBlock(strings.Replace(swap, "service_plan: default\n", "", 1), "  turns:")
	for name, text := range map[string]string{"as it stands": string(raw), "with its alternatives": swap} {
		cfg, err := Parse("heaterd.yaml.example", []byte(text), Options{Getenv: everySetting})
		if err != nil {
			t.Errorf("%s:\n%v", name, err)
			continue
		}
		for _, w := range cfg.Warnings {
			t.Errorf("%s: unexpected warning: %s", name, w)
		}
	}
}

// TestTemplatesKnowWhatIsNamed: a part of a message that the reference or a
// complaint names is one.
func TestTemplatesKnowWhatIsNamed(t *testing.T) {
	named := regexp.MustCompile(`\.([A-Z]\w+)`).FindAllStringSubmatch(Reference+templateAllowed, -1)
	if len(named) < 16 {
		t.Fatalf("only %d parts are named", len(named))
	}
	for _, m := range named {
		if _, err := text.Parse("{{." + m[1] + "}}"); err != nil {
			t.Error(err)
		}
	}
}

// cutBlock drops the key that begins a line with head, and all beneath it.
func cutBlock(text, head string) string {
	var kept []string
	indent, inside := 0, false
	for line := range strings.Lines(text) {
		lead := len(line) - len(strings.TrimLeft(line, " "))
		switch {
		case strings.HasPrefix(line, head):
			indent, inside = lead, true
			continue
		case inside && lead > indent:
			continue
		}
		inside = false
		kept = append(kept, line)
	}
	return strings.Join(kept, "")
}

// collectKeys notes every key below n, without list positions.
func collectKeys(n *yaml.Node, path string, into map[string]bool) {
	switch n.Kind {
	case yaml.MappingNode:
		for i := 0; i < len(n.Content); i += 2 {
			key := joinPath(path, n.Content[i].Value)
			into[key] = true
			if freeKeys(path) {
				delete(into, key)
			}
			collectKeys(n.Content[i+1], key, into)
		}
	case yaml.SequenceNode:
		for _, item := range n.Content {
			collectKeys(item, path+"[]", into)
		}
	}
}

// freeKeys reports whether the keys of a table are the user's own.
func freeKeys(path string) bool { return strings.HasSuffix(path, ".text.header") }

func TestEveryKeyOfTheWrongTypeIsReportedWhereItStands(t *testing.T) {
	root, _ := readDocument("r", []byte(Reference))
	tried := 0
	for _, path := range keyPaths(root, nil) {
		copied, _ := readDocument("r", []byte(Reference))
		key := spoil(copied, path)
		data := encode(t, copied)
		_, err := Parse("f.yaml", data, Options{Getenv: everySetting})
		wrong, ok := err.(*Errors)
		if !ok {
			t.Errorf("%s: a list of lists of lists was taken", key)
			continue
		}
		tried++
		if !slices.ContainsFunc(wrong.Problems, func(p Problem) bool {
			return strings.HasPrefix(p.Path, key) && p.Line > 0 && p.Column > 0 && strings.Contains(p.Message, "list") && p.Allowed != ""
		}) {
			t.Errorf("%s: not reported at its place:\n%v", key, err)
		}
	}
	t.Logf("%d keys tried", tried)
}

// keyPaths gives the positions that lead to the value of every key.
func keyPaths(n *yaml.Node, at []int) [][]int {
	var out [][]int
	for i, c := range n.Content {
		if n.Kind == yaml.MappingNode && i%2 == 0 {
			continue
		}
		here := append(slices.Clone(at), i)
		if n.Kind == yaml.MappingNode {
			out = append(out, here)
		}
		out = append(out, keyPaths(c, here)...)
	}
	return out
}

// spoil puts a list of lists of lists where path leads and gives the key.
func spoil(n *yaml.Node, path []int) (key string) {
	for i, at := range path {
		if n.Kind == yaml.MappingNode {
			key = joinPath(key, n.Content[at-1].Value)
		} else {
			key += "[" + string(rune('0'+at)) + "]"
		}
		if i < len(path)-1 {
			n = n.Content[at]
			continue
		}
		inner := &yaml.Node{Kind: yaml.SequenceNode, Content: []*yaml.Node{{Kind: yaml.SequenceNode}}}
		n.Content[at] = &yaml.Node{Kind: yaml.SequenceNode, Content: []*yaml.Node{inner}}
	}
	return key
}

func encode(t *testing.T, n *yaml.Node) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := yaml.NewEncoder(&b).Encode(n); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}
