package main

import (
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
)

// build is the program, built once for all tests that run it as a process of
// its own.
type build struct {
	name  string
	edits []edit // of the source, in a copy
	alone bool   // it needs no library of the system, as what is shipped
	once  sync.Once
	err   error
}

// edit puts a text in the place of another; file lies beneath the module, or
// beneath Go's own sources where it begins with std.
type edit struct{ file, was, is string }

var (
	asShipped = &build{name: "heaterd"}
	inImage   = &build{name: "in-image", alone: true}

	// impatient is the program with figures that no test can wait for: it
	// looks after the store at once, in small parts, and takes all that
	// arrived before its start; it notices a dead network within seconds.
	impatient = &build{name: "impatient", edits: []edit{
		{"cmd/heaterd/care.go", "// care looks after", "var began = reading.InstantOf(time.Now())\n\n// care looks after"},
		{"cmd/heaterd/care.go", "d.now().Add(-age)", "began"},
		{"cmd/heaterd/care.go", "tendFirst      = time.Minute ", "tendFirst = 10 * time.Millisecond "},
		{"cmd/heaterd/care.go", "tendLines      = 20_000 ", "tendLines = 300 "},
		{"cmd/heaterd/care.go", "tendPause      = 100 * time.Millisecond ", "tendPause = time.Millisecond "},
		{"cmd/heaterd/supervise.go", "careEvery  = 5 * time.Second", "careEvery = 50 * time.Millisecond"},
		{"ingest/mqtt/link.go", "keepAlive      = 20 * time.Second ", "keepAlive = 1 * time.Second "},
		{"ingest/mqtt/link.go", "connectTimeout = 10 * time.Second", "connectTimeout = 3 * time.Second"},
		{"ingest/mqtt/link.go", "pingTimeout    = 10 * time.Second", "pingTimeout = 1 * time.Second"},
		{"ingest/mqtt/backoff.go", "lastPause  = 15 * time.Second", "lastPause = 1 * time.Second"},
	}}
)

// built is the folder of what was built.
var built struct {
	once sync.Once
	dir  string
	err  error
}

func (b *build) path(t testing.TB) string {
	t.Helper()
	built.once.Do(func() { built.dir, built.err = os.MkdirTemp("", "heaterd-test-") })
	if built.err != nil {
		t.Fatal(built.err)
	}
	out := filepath.Join(built.dir, b.name)
	b.once.Do(func() { b.err = b.make(out) })
	if b.err != nil {
		t.Fatal(b.err)
	}
	return out
}

func (b *build) make(out string) error {
	overlay, err := b.overlay()
	if err != nil {
		return err
	}
	cmd := exec.Command("go", "build", "-overlay", overlay, "-o", out, ".")
	if b.alone {
		cmd.Env = append(os.Environ(), "CGO_ENABLED=0")
	}
	said, err := cmd.CombinedOutput()
	if err != nil {
		return fmt.Errorf("cannot build: %w\n%s", err, said)
	}
	return nil
}

// overlay writes the edited copies, and the file that tells the compiler of
// them.
func (b *build) overlay() (string, error) {
	edited := map[string]string{}
	for _, e := range b.edits {
		from, err := e.path()
		if err != nil {
			return "", err
		}
		to := filepath.Join(built.dir, b.name+"-"+strings.ReplaceAll(e.file, "/", "-"))
		if err := e.apply(from, to, edited[from] != ""); err != nil {
			return "", err
		}
		edited[from] = to
	}
	path := filepath.Join(built.dir, b.name+".json")
	body, err := json.Marshal(map[string]any{"Replace": edited})
	if err != nil {
		return "", err
	}
	return path, os.WriteFile(path, body, 0o600)
}

func (e edit) path() (string, error) {
	if rest, ok := strings.CutPrefix(e.file, "std/"); ok {
		root, err := exec.Command("go", "env", "GOROOT").Output()
		return filepath.Join(strings.TrimSpace(string(root)), "src", rest), err
	}
	return filepath.Abs(filepath.Join("..", "..", e.file))
}

// apply edits a file into another, or that other again.
func (e edit) apply(from, to string, again bool) error {
	if again {
		from = to
	}
	text, err := os.ReadFile(from)
	if err != nil {
		return err
	}
	if n := strings.Count(string(text), e.was); n != 1 {
		return fmt.Errorf("%s has %q %d times, want it once", e.file, e.was, n)
	}
	return os.WriteFile(to, []byte(strings.Replace(string(text), e.was, e.is, 1)), 0o600)
}
