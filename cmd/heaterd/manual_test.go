package main

import (
	"context"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// manualOf writes the manual on the day that epoch gives, and reads it.
func manualOf(t *testing.T, epoch string) map[string]string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "man")
	env := func(name string) (string, bool) { return epoch, name == epochVariable && epoch != "" }
	var errs strings.Builder
	if status := run(context.Background(), []string{"manual", "--out", dir}, env, streams{strings.NewReader(""), io.Discard, &errs}); status != 0 {
		t.Fatalf("exit status %d: %s", status, errs.String())
	}
	names, err := filepath.Glob(filepath.Join(dir, "*"))
	if err != nil {
		t.Fatal(err)
	}
	pages := map[string]string{}
	for _, n := range names {
		b, err := os.ReadFile(n)
		if err != nil {
			t.Fatal(err)
		}
		pages[filepath.Base(n)] = string(b)
	}
	return pages
}

// Every command that help speaks of has a page, and no other.
func TestManualIsWhole(t *testing.T) {
	pages := manualOf(t, "")
	want := []string{"heaterd.1"}
	root := newRoot(nil, streams{strings.NewReader(""), io.Discard, io.Discard})
	for _, c := range described(root) {
		if c.Name() != "help" {
			want = append(want, strings.ReplaceAll(c.CommandPath(), " ", "-")+".1")
		}
	}
	if !slices.Contains(want, "heaterd-check-reference.1") || slices.Contains(want, "heaterd-manual.1") {
		t.Errorf("wrong commands described: %v", want)
	}
	for _, name := range want {
		if !strings.Contains(pages[name], ".SH NAME") {
			t.Errorf("%s is missing or no page:\n%s", name, pages[name])
		}
		delete(pages, name)
	}
	for name := range pages {
		t.Errorf("%s is of no command", name)
	}
	for _, name := range []string{"heaterd-completion.1", "heaterd-completion-bash.1", "heaterd-run.1"} {
		if !slices.Contains(want, name) {
			t.Errorf("%s is not asked for", name)
		}
	}
}

// The same program and day give the same bytes, whatever the clock says.
func TestManualIsReproducible(t *testing.T) {
	heading := regexp.MustCompile(`(?m)^\.TH "HEATERD" "1" "([^"]*)"`)
	for epoch, day := range map[string]string{"": "", "1768197600": "Jan 2026", "0": "Jan 1970"} {
		first := manualOf(t, epoch)
		if d := cmp.Diff(first, manualOf(t, epoch)); d != "" {
			t.Errorf("twice with %q (-first +second):\n%s", epoch, d)
		}
		today := time.Now().UTC().Format("2006-01-02")
		for name, page := range first {
			if strings.Contains(page, today) || strings.Contains(page, strings.ReplaceAll(today, "-", `\-`)) {
				t.Errorf("%s tells what day it was when it was written", name)
			}
		}
		m := heading.FindStringSubmatch(first["heaterd.1"])
		if m == nil || m[1] != day {
			t.Errorf("with %q the page is of %q, want %q", epoch, m, day)
		}
	}
}

func TestManualRefusesAWrongDay(t *testing.T) {
	for _, epoch := range []string{"yesterday", "-1", "1.5"} {
		env := func(string) (string, bool) { return epoch, true }
		if got := run(t.Context(), []string{"manual", "--out", t.TempDir()}, env, streams{strings.NewReader(""), io.Discard, io.Discard}); got != 2 {
			t.Errorf("exit status %d with the day %q, want 2", got, epoch)
		}
	}
}

// What comes with the parser speaks as the other commands do: one line that
// begins small and ends without a full stop.
func TestShortsAreOfOneStyle(t *testing.T) {
	root := newRoot(nil, streams{strings.NewReader(""), io.Discard, io.Discard})
	for _, c := range described(root) {
		if s := c.Short; s == "" || strings.ToLower(s[:1]) != s[:1] || strings.HasSuffix(s, ".") {
			t.Errorf("%s is described as %q", c.CommandPath(), s)
		}
	}
	for shell := range shells {
		status, out, errs := invoke(t.Context(), "completion", shell)
		if status != 0 || errs != "" || !strings.Contains(out, "heaterd") {
			t.Errorf("completion %s: exit status %d, %q, %d bytes", shell, status, errs, len(out))
		}
	}
}
