package main

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/config"
	"heaterd/ingest/mqtt/mqtttest"
	"heaterd/ingest/reading"
)

func readme(t *testing.T) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// readmeBlocks gives what README.md marks with <!-- test: NAME --> right
// before a fenced block.
func readmeBlocks(t *testing.T, name string) []string {
	t.Helper()
	marked := regexp.MustCompile("(?s)<!-- test: " + name + " -->\\s*```[a-z]*\n(.*?)```")
	var blocks []string
	for _, m := range marked.FindAllStringSubmatch(readme(t), -1) {
		blocks = append(blocks, m[1])
	}
	if len(blocks) == 0 {
		t.Fatalf("README.md marks nothing with <!-- test: %s -->", name)
	}
	return blocks
}

// What the README shows of a configuration is right beside a site.
func TestReadmeConfigures(t *testing.T) {
	for _, b := range readmeBlocks(t, "check") {
		file := filepath.Join(written(t, map[string]string{"heaterd.yaml": smallSite + b}), "heaterd.yaml")
		if status, out, errs := invoke(t.Context(), "check", "--config", file); status != 0 {
			t.Errorf("exit status %d: %s%s", status, out, errs)
		}
	}
}

// Whoever looks an alarm up in the README finds it, and why a burn ended too.
func TestReadmeNamesEveryKindAndEnding(t *testing.T) {
	var words []string
	for _, k := range alarm.Kinds() {
		words = append(words, string(k))
	}
	words = append(words, endingNames()...)
	for _, w := range words {
		if !strings.Contains(readme(t), "`"+w+"`") {
			t.Errorf("README.md does not name %s", w)
		}
	}
}

// What the README shows of an alarm is what the alarm says.
func TestReadmeQuotesTheAlarm(t *testing.T) {
	golden, err := os.ReadFile(filepath.Join("..", "..", "alerts", "wording", "testdata", "co-ceiling.txt"))
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range readmeBlocks(t, "alarm") {
		if !strings.Contains(string(golden), "\n"+b) {
			t.Errorf("no alarm says\n%s", b)
		}
	}
}

// The lines for the shell are run against a real broker with a daemon behind
// it. Where they name the port 1883 the test's own is put in its place.
func TestReadmePublishes(t *testing.T) {
	blocks := readmeBlocks(t, "mosquitto")
	g := &ground{t: t, mosquitto: mqtttest.StartMosquitto(t)}
	dir := written(t, map[string]string{
		"heaterd.yaml": smallSite + "broker: { url: \"" + g.mosquitto.URL() + "\" }\n",
	})
	g.config = filepath.Join(dir, "heaterd.yaml")
	var err error
	if g.cfg, err = config.Load(g.config, os.LookupEnv); err != nil {
		t.Fatal(err)
	}
	p := g.start()
	p.connected(1)
	sent := 0
	for _, b := range blocks {
		sent += strings.Count(b, "mosquitto_pub ")
		shell(t, g.mosquitto.URL(), b)
	}
	g.settle(p)
	p.stop()
	k := g.open()
	heard := 0
	for _, l := range k.lines {
		if l.Pack != nil || l.Status != nil {
			heard++
		}
	}
	if heard < sent {
		t.Errorf("the lines publish %d messages, %d were understood", sent, heard)
	}
	refused, err := k.store.ListQuarantine(context.Background(), reading.NodeID(""), 10, 64<<10)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range refused {
		t.Errorf("refused: %s %s: %s", r.Refused.Topic, r.Payload, r.Refused.Detail)
	}
}

// shell runs a block of the README as a reader would, in an empty folder.
func shell(t *testing.T, url, block string) {
	t.Helper()
	home := t.TempDir()
	port := url[strings.LastIndex(url, ":")+1:]
	if err := os.MkdirAll(filepath.Join(home, ".config"), 0o700); err != nil {
		t.Fatal(err)
	}
	// Where a line names no port, the program takes it from here.
	if err := os.WriteFile(filepath.Join(home, ".config", "mosquitto_pub"), []byte("-p "+port+"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	cmd := exec.CommandContext(ctx, "sh", "-eu", "-c", strings.ReplaceAll(block, "1883", port))
	cmd.Dir = home
	cmd.Env = append(os.Environ(), "HOME="+home, "PORT="+port, "XDG_CONFIG_HOME="+filepath.Join(home, ".config"))
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s\n%s", err, out, block)
	}
}
