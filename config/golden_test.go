package config_test

import (
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"heaterd/config"
)

var update = flag.Bool("update", false, "write the expected texts anew")

// invented stands for the secret files of the test configurations.
func invented(path string) (fs.FileMode, []byte, error) {
	switch filepath.Base(path) {
	case "good.secret":
		return 0o600, []byte("correct horse\r\n"), nil
	case "open.secret":
		return 0o644, []byte("correct horse\n"), nil
	case "empty.secret":
		return 0o600, []byte("\n"), nil
	}
	return 0, nil, &fs.PathError{Op: "open", Path: path, Err: fs.ErrNotExist}
}

func options() config.Options {
	return config.Options{Dir: "/etc/heaterd", Open: invented, Getenv: func(string) (string, bool) { return "", false }}
}

// TestTextsOfProblems compares everything said about each file in testdata
// with the text kept beside it: errors where it is wrong, warnings where not.
func TestTextsOfProblems(t *testing.T) {
	files, err := filepath.Glob(filepath.Join("testdata", "*.yaml"))
	if err != nil || len(files) < 20 {
		t.Fatalf("found %d files: %v", len(files), err)
	}
	for _, file := range files {
		t.Run(filepath.Base(file), func(t *testing.T) {
			data, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			compare(t, strings.TrimSuffix(file, ".yaml")+".err", said(filepath.Base(file), data))
		})
	}
}

// said gives every problem of a configuration, one a line.
func said(name string, data []byte) string {
	cfg, err := config.Parse(name, data, options())
	if err != nil {
		return err.Error() + "\n"
	}
	var b strings.Builder
	for _, w := range cfg.Warnings {
		fmt.Fprintf(&b, "warning: %s\n", w)
	}
	return b.String()
}

// lines counts lines as YAML 1.1 breaks them.
func lines(data []byte) int {
	n := 1
	for _, c := range string(data) {
		if strings.ContainsRune("\n\r\u0085\u2028\u2029", c) {
			n++
		}
	}
	return n
}

func compare(t *testing.T, file, got string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("%s (-want +got):\n%s", file, diff)
	}
}

// FuzzParse: whatever the bytes, a configuration or problems that each name a
// place and say something, never both and never a panic.
func FuzzParse(f *testing.F) {
	files, _ := filepath.Glob(filepath.Join("testdata", "*.yaml"))
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Add([]byte(config.Reference))
	f.Fuzz(func(t *testing.T, data []byte) {
		cfg, err := config.Parse("f.yaml", data, options())
		if err == nil {
			config.Summary(cfg)
			if len(cfg.Fleet.Sites) == 0 || len(cfg.Sources) == 0 {
				t.Error("a configuration without sites or sources was taken")
			}
			return
		}
		var wrong *config.Errors
		if cfg != nil || !errors.As(err, &wrong) || len(wrong.Problems) == 0 {
			t.Fatalf("neither a configuration nor problems: %v", err)
		}
		for _, p := range wrong.Problems {
			if p.Line < 1 || p.Column < 1 || p.Message == "" || p.Line > lines(data) {
				t.Errorf("no usable place: %#v", p)
			}
		}
	})
}
