package main

import (
	"context"
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"heaterd/alerts/ledger"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/store"
)

// openStore opens a store as the daemon does; the test's end closes it.
func openStore(t testing.TB, path string) *store.Store {
	t.Helper()
	s, err := store.Open(t.Context(), path, silent, ledger.Migrations)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	return s
}

// toldLines writes down the lines of a log, with everything that is in them.
func toldLines(t *testing.T, s *store.Store) []string {
	t.Helper()
	lines, err := s.Lines(context.WithoutCancel(t.Context()), 0, 1_000_000)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, l := range lines {
		b, err := json.Marshal(l)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, string(b))
	}
	return out
}

func packOf(second int) record.Line {
	at := reading.InstantOf(time.Date(2026, 1, 12, 6, 0, second, 0, time.UTC))
	return record.Line{At: at, Pack: &reading.Pack{Node: "n-07", Samples: []reading.Sample{
		{At: at, Has: reading.Flame | reading.CO, On: reading.Flame, CO: float32(second % 30)},
	}}}
}

// busy appends to a store until it is told to stop, as a daemon does.
func busy(t *testing.T, s *store.Store) (stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error)
	go func() {
		var err error
		for n := 1000; ctx.Err() == nil && err == nil; n++ {
			_, err = s.Keep(context.WithoutCancel(ctx), store.Batch{Lines: []record.Line{packOf(n)}})
		}
		ended <- err
	}()
	return func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	}
}

// restore does what the help of backup says.
func restore(t *testing.T, copied, path string) {
	t.Helper()
	b, err := os.ReadFile(copied)
	if err == nil {
		err = os.WriteFile(path, b, 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
	for _, side := range []string{"-wal", "-shm"} {
		if err := os.Remove(path + side); err != nil && !errors.Is(err, fs.ErrNotExist) {
			t.Fatal(err)
		}
	}
}

// snatch keeps the files of an open store as a power failure would leave them.
func snatch(t *testing.T, path string) (dir string) {
	t.Helper()
	dir = t.TempDir()
	for _, side := range []string{"", "-wal", "-shm"} {
		b, err := os.ReadFile(path + side)
		if err == nil {
			err = os.WriteFile(filepath.Join(dir, filepath.Base(path)+side), b, 0o600)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// A copy made while the daemon writes holds the log up to some moment after
// it was asked for, whole; put in the place of a store that died with its side
// files about, it is that store again, and the log goes on from there.
func TestBackupRestores(t *testing.T) {
	dir := written(t, map[string]string{"heaterd.yaml": smallSite})
	path, copied := filepath.Join(dir, "heaterd.db"), filepath.Join(dir, "copy.db")
	s := openStore(t, path)
	for n := range 300 {
		if _, err := s.Keep(t.Context(), store.Batch{Lines: []record.Line{packOf(n)}}); err != nil {
			t.Fatal(err)
		}
	}
	before := toldLines(t, s)
	stop := busy(t, s)
	status, out, errs := invoke(t.Context(), "backup", "--config", filepath.Join(dir, "heaterd.yaml"), "--out", copied)
	stop()
	if status != 0 || !strings.Contains(out, "is sound") {
		t.Fatalf("exit status %d, it said %q and %q", status, out, errs)
	}
	after, dead := toldLines(t, s), snatch(t, path)

	lost := filepath.Join(dead, "heaterd.db")
	restore(t, copied, lost)
	back := openStore(t, lost)
	got := toldLines(t, back)
	if len(got) < len(before) || len(got) > len(after) {
		t.Fatalf("%d lines came back; there were %d when it began and %d when it was done", len(got), len(before), len(after))
	}
	if d := cmp.Diff(after[:len(got)], got); d != "" {
		t.Errorf("the lines that came back differ (-kept +restored):\n%s", d)
	}
	if back.Unclean() {
		t.Error("the copy calls itself the leavings of a crash")
	}
	if err := back.Check(t.Context()); err != nil {
		t.Error(err)
	}
	if last, err := back.Keep(t.Context(), store.Batch{Lines: []record.Line{packOf(0)}}); err != nil || last != int64(len(got)+1) {
		t.Errorf("the log goes on at %d, %v; want %d", last, err, len(got)+1)
	}
}

// A copy tells as much as the store, so it is no more readable.
func TestBackupIsPrivate(t *testing.T) {
	dir := written(t, map[string]string{"heaterd.yaml": smallSite})
	openStore(t, filepath.Join(dir, "heaterd.db"))
	copied := filepath.Join(dir, "copy.db")
	if status, _, errs := invoke(t.Context(), "backup", "--config", filepath.Join(dir, "heaterd.yaml"), "--out", copied); status != 0 {
		t.Fatal(errs)
	}
	info, err := os.Stat(copied)
	if err != nil {
		t.Fatal(err)
	}
	if got := info.Mode().Perm(); got != 0o600 {
		t.Errorf("the copy has the mode %04o, want 0600", got)
	}
}

// What is there is never written over, and what failed leaves nothing.
func TestBackupRefuses(t *testing.T) {
	dir := written(t, map[string]string{"heaterd.yaml": smallSite, "kept": "something else"})
	conf, kept, absent := filepath.Join(dir, "heaterd.yaml"), filepath.Join(dir, "kept"), filepath.Join(dir, "new.db")
	if status, _, errs := invoke(t.Context(), "backup", "--config", conf, "--out", absent); status != 1 || !strings.Contains(errs, "cannot find the store") {
		t.Errorf("without a store: exit status %d, %q", status, errs)
	}
	if err := os.WriteFile(filepath.Join(dir, "heaterd.db"), []byte(strings.Repeat("no database ", 400)), 0o600); err != nil {
		t.Fatal(err)
	}
	if status, _, errs := invoke(t.Context(), "backup", "--config", conf, "--out", absent); status != 1 {
		t.Errorf("of a file that is no store: exit status %d, %q", status, errs)
	}
	if _, err := os.Stat(absent); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a failed backup left a file: %v", err)
	}
	if status, _, errs := invoke(t.Context(), "backup", "--config", conf, "--out", kept); status != 1 || !strings.Contains(errs, "exists") {
		t.Errorf("over another file: exit status %d, %q", status, errs)
	}
	if b, _ := os.ReadFile(kept); string(b) != "something else" {
		t.Errorf("it wrote over what was there: %q", b)
	}
}
