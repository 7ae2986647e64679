package main

import (
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/spf13/cobra"
)

// invoke runs the program in this process.
func invoke(ctx context.Context, args ...string) (status int, out, errs string) {
	var o, e bytes.Buffer
	none := func(string) (string, bool) { return "", false }
	status = run(ctx, args, none, streams{strings.NewReader(""), &o, &e})
	return status, o.String(), e.String()
}

// written makes files in a folder of the test's own.
func written(t *testing.T, files map[string]string) (dir string) {
	t.Helper()
	dir = t.TempDir()
	for name, text := range files {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

const smallSite = `version: 1
sites: [{ id: quay, time_zone: UTC, limits: us-niosh, activity: heavy, procedure: Out., spaces: [{ id: hall }] }]
heaters: [{ id: H-07, node: n-07, site: quay, space: hall }]
http: { listen: "127.0.0.1:0" }
`

// 0: done; 1: it ran and failed; 2: the command line or the configuration is
// wrong.
func TestExitStatus(t *testing.T) {
	dir := written(t, map[string]string{
		"good.yaml":    smallSite,
		"bad.yaml":     strings.Replace(smallSite, "node:", "nodes:", 1),
		"secret.yaml":  smallSite + "broker: { url: \"tcp://127.0.0.1:1\", username: u, password_file: nowhere }\n",
		"busy.yaml":    smallSite + "embedded_broker: { listen: \"127.0.0.1:0\" }\nstore: { path: nowhere/heaterd.db }\n",
		"foreign.yaml": smallSite + "embedded_broker: { listen: \"127.0.0.1:0\" }\nstore: { path: foreign.db }\n",
		"foreign.db":   strings.Repeat("not a database at all ", 400),
		"good.jsonl":   `{"at":"2026-01-12T06:00:00Z","topic":"sites/quay/nodes/n-07/telemetry","payload":"[{\"n\":\"flame\",\"vb\":true}]"}` + "\n",
		"bad.jsonl":    "{}\n",
		"good.json":    `[{"n":"co","u":"ppm","v":3}]`,
		"bad.json":     `[`,
	})
	topic := "sites/quay/nodes/n-07/telemetry"
	tests := []struct {
		want int
		args string
		says string // on standard error
	}{
		{0, "version", ""},
		{0, "--help", ""},
		{0, "--version", ""},
		{0, "help check send", ""},
		{0, "help replay", ""},
		{0, "check --config good.yaml", ""},
		{0, "check --config secret.yaml", ""},
		{0, "check reference", ""},
		{0, "replay --config good.yaml --capture good.jsonl", ""},
		{0, "decode --config good.yaml --payload good.json --topic " + topic, ""},

		{1, "replay --config good.yaml --capture bad.jsonl", "line 1"},
		{1, "replay --config good.yaml --capture none.jsonl", "cannot open"},
		{1, "decode --config good.yaml --payload bad.json --topic " + topic, "refused"},
		{1, "decode --config good.yaml --payload none.json --topic " + topic, "cannot open the message"},
		{1, "capture --config good.yaml --out good.json", "cannot create the recording"},
		{1, "run --config busy.yaml", "nowhere"},
		{1, "run --config foreign.yaml", "foreign.db"},
		{1, "demo --listen 256.0.0.1:1", "cannot listen"},

		{2, "", "name a command"},
		{2, "nonsense", "unknown command"},
		{2, "chek", "did you mean check?"},
		{2, "nonsense", "there are: backup, "},
		{2, "check", "required flag"},
		{2, "check --config", "needs an argument"},
		{2, "check --config good.yaml more", "unknown command"},
		{2, "check sned --config good.yaml", "did you mean send?"},
		{2, "check good.yaml", "did you mean --config good.yaml?"},
		{2, "check live", "name one address"},
		{2, "check live 127.0.0.1:8080", `"127.0.0.1:8080" is no address of a daemon's pages: the form is http://HOST:PORT`},
		{2, "check live localhost", "the form is http://HOST:PORT"},
		{2, "help relpay", "did you mean replay?"},
		{2, "help check sned", "did you mean send?"},
		{2, "demo --listen 8080", `--listen is "8080", allowed: HOST:PORT`},
		{2, "check --config none.yaml", "cannot read the configuration"},
		{2, "check --config bad.yaml", "bad.yaml:3:"},
		{2, "run", "required flag"},
		{2, "run", "For example:\n  heaterd run --config /etc/heaterd/heaterd.yaml\nheaterd run --help says more."},
		{2, "run heaterd.yaml", `heaterd run does not take "heaterd.yaml" by itself; did you mean --config heaterd.yaml?`},
		{2, "run --conf good.yaml", "heaterd run --config "},
		{2, "report", "name a report: exposure, service, season, alarms"},
		{2, "report", "For example:\n  heaterd report exposure --config"},
		{2, "report exposre --config good.yaml", `there is no report "exposre"; there are: exposure, `},
		{2, "report service season --config good.yaml", "name one report, found 2"},
		{2, "replay good.jsonl", "takes flags only"},
		{2, "run --config bad.yaml", "bad.yaml:3:"},
		{2, "run --config secret.yaml", "nowhere"}, // check takes it: the file itself is right
		{2, "run --config none.yaml", "cannot read the configuration"},
		{2, "capture --config good.yaml", "required flag"},
		{2, "capture --config bad.yaml --out new.jsonl", "bad.yaml:3:"},
		{2, "replay --config good.yaml", "required flag"},
		{2, "replay --config bad.yaml --capture good.jsonl", "bad.yaml:3:"},
		{2, "replay --config good.yaml --capture good.jsonl --against bad.yaml", "bad.yaml:3:"},
		{2, "replay --config good.yaml --capture - --against good.yaml", "not standard input"},
		{2, "decode --config good.yaml --payload good.json", "required flag"},
		{2, "decode --config good.yaml --topic t --payload good.json --at noon", "--at"},
		{2, "demo --speed -1", "--speed"},
		{2, "demo --speed 1e9", "--speed"},
		{2, "demo --speed NaN", "--speed"},
		{2, "demo --speed 1e-300", "--speed"},
		{2, "demo --past -1h", "--past"},
		{2, "demo --for ever", "--for"},
		{2, "report season --config good.yaml --format pdf", "--format"},
		{2, "report season --config good.yaml --units imperial", "--units"},
		{2, "report season --config good.yaml --from yesterday", "--from"},
	}
	t.Chdir(dir)
	for _, tt := range tests {
		t.Run(tt.args, func(t *testing.T) {
			got, _, errs := invoke(t.Context(), strings.Fields(tt.args)...)
			if got != tt.want {
				t.Errorf("exit status %d, want %d; it said %q", got, tt.want, errs)
			}
			if !strings.Contains(errs, tt.says) {
				t.Errorf("it said %q, want it to say %q", errs, tt.says)
			}
			if got == 0 && errs != "" {
				t.Errorf("it succeeded and yet said %q", errs)
			}
		})
	}
}

// own lists the program's own commands and theirs.
func own(c *cobra.Command) []*cobra.Command {
	var out []*cobra.Command
	for _, sub := range c.Commands() {
		if sub.Name() == "help" || sub.Name() == "completion" {
			continue
		}
		out = append(append(out, sub), own(sub)...)
	}
	return out
}

func TestHelp(t *testing.T) {
	root := newRoot(nil, streams{strings.NewReader(""), io.Discard, io.Discard})
	all := own(root)
	if len(all) < 7 {
		t.Fatalf("only %d commands", len(all))
	}
	for _, c := range all {
		words := strings.Fields(c.CommandPath())[1:]
		t.Run(strings.Join(words, " "), func(t *testing.T) {
			status, out, errs := invoke(t.Context(), append(words, "--help")...)
			if status != 0 || errs != "" {
				t.Errorf("exit status %d, and it said %q", status, errs)
			}
			if !strings.Contains(out, "Usage:") {
				t.Errorf("no usage in %q", out)
			}
			if c.HasLocalFlags() && !strings.Contains(out, "Examples:\n") {
				t.Errorf("it takes flags and shows no example:\n%s", out)
			}
		})
	}
}

// Every example must be a command line that the program takes.
func TestExamplesParse(t *testing.T) {
	root := newRoot(nil, streams{strings.NewReader(""), io.Discard, io.Discard})
	for _, c := range own(root) {
		for line := range strings.Lines(c.Example) {
			_, after, ok := strings.Cut(line, "heaterd ")
			if !ok {
				continue
			}
			args := strings.Fields(after)
			found, rest, err := root.Find(args)
			if err == nil {
				err = found.ParseFlags(rest)
			}
			if err != nil {
				t.Errorf("%s: the example %q is wrong: %v", c.CommandPath(), strings.TrimSpace(line), err)
			}
		}
	}
}

// The first signal asks; the caller's context stands for it here.
func TestStopIsNoFailure(t *testing.T) {
	t.Chdir(written(t, map[string]string{"good.yaml": smallSite + "embedded_broker: { listen: \"127.0.0.1:0\" }\n"}))
	ctx, cancel := context.WithCancel(t.Context())
	ready := &marker{word: "heaterd runs", seen: cancel}
	none := func(string) (string, bool) { return "", false }
	if got := run(ctx, []string{"run", "--config", "good.yaml"}, none, streams{strings.NewReader(""), io.Discard, ready}); got != 0 {
		t.Errorf("exit status %d after an orderly stop: %s", got, ready.all.String())
	}
	lines := strings.Split(strings.TrimSpace(ready.all.String()), "\n")
	if last := lines[len(lines)-1]; !strings.Contains(last, "level=INFO msg=\"heaterd stopped\" uptime=") {
		t.Errorf("the last line of the log is %s", last)
	}
}

// Nor is a stop that comes while it starts.
func TestStopAtTheStartIsNoFailure(t *testing.T) {
	t.Chdir(written(t, map[string]string{"good.yaml": smallSite + "embedded_broker: { listen: \"127.0.0.1:0\" }\n"}))
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	none := func(string) (string, bool) { return "", false }
	for _, args := range [][]string{{"run", "--config", "good.yaml"}, {"demo"}} {
		var said bytes.Buffer
		if got := run(ctx, args, none, streams{strings.NewReader(""), io.Discard, &said}); got != 0 {
			t.Errorf("%s: exit status %d: %s", args[0], got, said.String())
		}
	}
}

// marker calls seen once a word was written.
type marker struct {
	word string
	seen func()
	all  bytes.Buffer
}

func (m *marker) Write(p []byte) (int, error) {
	m.all.Write(p)
	if bytes.Contains(p, []byte(m.word)) {
		m.seen()
	}
	return len(p), nil
}
