package store_test

import (
	"context"
	"errors"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"testing"
	"testing/fstest"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/store"
)

var quiet = slog.New(slog.DiscardHandler)

func open(t testing.TB, path string, extra ...fs.FS) *store.Store {
	t.Helper()
	s, err := store.Open(t.Context(), path, quiet, extra...)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	return s
}

func fresh(t testing.TB) *store.Store {
	t.Helper()
	return open(t, filepath.Join(t.TempDir(), "a b?#%.db"))
}

type test interface {
	Helper()
	Fatal(...any)
	Context() context.Context
}

func mustAppend(t test, s *store.Store, lines ...record.Line) int64 {
	t.Helper()
	last, err := s.Keep(t.Context(), store.Batch{Lines: lines})
	if err != nil {
		t.Fatal(err)
	}
	return last
}

var noon = reading.InstantOf(time.Date(2026, 1, 12, 12, 0, 0, 0, time.UTC))

func pack(node string, at reading.Instant, co float32) record.Line {
	return record.Line{At: at, Pack: &reading.Pack{Node: reading.NodeID(node), Samples: []reading.Sample{
		{At: at, Has: reading.Flame | reading.CO, On: reading.Flame, CO: co}}}}
}

// Whoever asks how far the log goes does not wait for a disk that stands still.
func TestLastWaitsForNoAppend(t *testing.T) {
	s := fresh(t)
	mustAppend(t, s, pack("n-1", noon, 1))
	tx, err := s.Writer().BeginTx(t.Context(), nil) // stands for a commit that does not end
	if err != nil {
		t.Fatal(err)
	}
	appended := make(chan error, 1)
	go func() {
		_, err := s.Keep(t.Context(), store.Batch{Lines: []record.Line{pack("n-1", noon+1, 2)}})
		appended <- err
	}()
	for s.Writer().Stats().WaitCount == 0 {
		runtime.Gosched()
	}
	told := make(chan int64, 1)
	go func() { told <- s.Last() }()
	select {
	case last := <-told:
		if last != 1 {
			t.Errorf("the last line is %d, want 1", last)
		}
	case <-time.After(10 * time.Second):
		t.Error("Last waits for Append")
	}
	if err := errors.Join(tx.Rollback(), <-appended); err != nil || s.Last() != 2 {
		t.Errorf("the last line is %d, want 2: %v", s.Last(), err)
	}
}

func TestLinesComeBackAsAppended(t *testing.T) {
	s := fresh(t)
	var all []record.Line
	rapid.Check(t, func(t *rapid.T) {
		lines := rapid.SliceOfN(anyLine(), 1, 20).Draw(t, "lines")
		first := s.Last()
		last := mustAppend(t, s, lines...)
		if last != first+int64(len(lines)) || lines[0].ID != first+1 {
			t.Fatalf("ids %d to %d after %d", lines[0].ID, last, first)
		}
		all = append(all, lines...)
		got, err := s.Lines(t.Context(), first, len(lines)+1)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(lines, got); diff != "" {
			t.Fatalf("lines differ (-appended +read):\n%s", diff)
		}
	})
	got, err := s.Lines(t.Context(), 0, len(all)+1)
	if err != nil || len(got) != len(all) {
		t.Fatalf("%d lines of %d, %v", len(got), len(all), err)
	}
}

func TestReopenContinues(t *testing.T) {
	path := filepath.Join(t.TempDir(), "h.db")
	s := open(t, path)
	if s.Unclean() {
		t.Error("a new store is unclean")
	}
	mustAppend(t, s, pack("n-1", noon, 1), record.Line{At: noon})
	again := open(t, path) // the first is still running: as after a kill
	if !again.Unclean() {
		t.Error("a store that was not closed is not marked")
	}
	_ = again.Close()
	_ = s.Close()
	if info, err := os.Stat(path + "-wal"); err == nil && info.Size() > 0 {
		t.Errorf("write-ahead log of %d bytes left", info.Size())
	}
	s = open(t, path)
	if s.Unclean() {
		t.Error("unclean after a clean stop")
	}
	if last := mustAppend(t, s, record.Line{At: noon}); last != 3 {
		t.Errorf("next id %d, want 3", last)
	}
	if info, _ := os.Stat(path); info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v, want owner only", info.Mode())
	}
}

func TestOpenRefusesForeignFiles(t *testing.T) {
	dir := t.TempDir()
	notDB := filepath.Join(dir, "text.db")
	if err := os.WriteFile(notDB, []byte("this is certainly no database, only a few words of text"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := store.Open(t.Context(), notDB, quiet); !errors.Is(err, store.ErrUnavailable) {
		t.Errorf("text file: %v", err)
	}
	if _, err := store.Open(t.Context(), filepath.Join(dir, "no", "h.db"), quiet); !errors.Is(err, store.ErrUnavailable) {
		t.Errorf("missing directory: %v", err)
	}
	for name, pragma := range map[string]string{"other": "application_id = 7", "newer": "user_version = 99"} {
		path := filepath.Join(dir, name)
		s := open(t, path)
		if _, err := s.Writer().Exec("PRAGMA " + pragma); err != nil {
			t.Fatal(err)
		}
		_ = s.Close()
		if _, err := store.Open(t.Context(), path, quiet); !errors.Is(err, store.ErrForeign) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestExtraSchema(t *testing.T) {
	extra := fstest.MapFS{"00100_more.sql": {Data: []byte("-- +goose Up\nCREATE TABLE more (a INTEGER) STRICT;\n")}}
	path := filepath.Join(t.TempDir(), "h.db")
	for range 2 { // the second time there is nothing to do
		s := open(t, path, extra)
		if _, err := s.Writer().Exec("INSERT INTO more VALUES (1)"); err != nil {
			t.Fatal(err)
		}
		if _, err := s.Reader().Exec("INSERT INTO more VALUES (2)"); err == nil {
			t.Error("the reading pool writes")
		}
		_ = s.Close()
	}
}

func TestSnapshots(t *testing.T) {
	s := fresh(t)
	if _, _, ok, err := s.LoadSnapshot(t.Context(), "a"); ok || err != nil {
		t.Fatalf("snapshot from nowhere: %v", err)
	}
	for _, body := range []string{"one", "two"} {
		if err := errors.Join(s.SaveSnapshot(t.Context(), "a", 7, []byte(body)), s.SaveSnapshot(t.Context(), "b", 8, nil)); err != nil {
			t.Fatal(err)
		}
	}
	cursor, body, ok, err := s.LoadSnapshot(t.Context(), "a")
	if cursor != 7 || string(body) != "two" || !ok || err != nil {
		t.Errorf("got %d %q %v %v", cursor, body, ok, err)
	}
}

func quarantine(t testing.TB, s *store.Store, q store.Quarantined) {
	t.Helper()
	if _, err := s.Keep(t.Context(), store.Batch{Quarantined: []store.Quarantined{q}}); err != nil {
		t.Fatal(err)
	}
}

func TestQuarantineKeepsTheNewest(t *testing.T) {
	s := fresh(t)
	s.KeepQuarantined(3)
	for i := range 5 {
		node := reading.NodeID([]string{"n-1", "n-2"}[i%2])
		r := record.Refused{Topic: "a/b", Node: node, Reason: reading.BadSyntax, Detail: "not \xff JSON"}
		quarantine(t, s, store.Quarantined{At: noon, Refused: r, Payload: make([]byte, 70_000+i)})
	}
	all, err := s.ListQuarantine(t.Context(), "", 10, 64<<10)
	if err != nil || len(all) != 3 || all[0].ID != 5 || len(all[0].Payload) != 64<<10 || all[0].Refused.Topic != "a/b" {
		t.Errorf("%v %d of them", err, len(all))
	}
	if one, err := s.ListQuarantine(t.Context(), "n-2", 10, 64<<10); err != nil || len(one) != 1 || one[0].ID != 4 {
		t.Errorf("of one node: %v %v", one, err)
	}
	if start, err := s.ListQuarantine(t.Context(), "", 10, 600); err != nil || len(start[0].Payload) != 600 {
		t.Errorf("their beginnings: %v, %d bytes", err, len(start[0].Payload))
	}
}

func TestUnlistedNodesAreTheNewestFirst(t *testing.T) {
	s := fresh(t)
	for i, r := range []record.Refused{
		{Node: "n-1", Reason: reading.NotListed}, {Node: "n-2", Reason: reading.NotListed}, {Node: "n-3", Reason: reading.BadSyntax},
		{Node: "n-4", Reason: reading.NotListed}, {Node: "n-2", Reason: reading.NotListed},
	} {
		quarantine(t, s, store.Quarantined{At: noon.Add(time.Duration(i) * time.Hour), Refused: r})
	}
	all, err := s.ListUnlisted(t.Context(), noon.Add(time.Hour))
	if want := []store.Unlisted{{Node: "n-2", At: noon.Add(4 * time.Hour)}, {Node: "n-4", At: noon.Add(3 * time.Hour)}}; err != nil || !slices.Equal(all, want) {
		t.Errorf("got %v, %v; want %v", all, err, want)
	}
}

func TestBackupAndCheck(t *testing.T) {
	s := fresh(t)
	mustAppend(t, s, pack("n-1", noon, 12.5))
	hold, err := s.Writer().Begin() // whoever writes does not hold up a backup
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = hold.Rollback() }()
	dest := filepath.Join(t.TempDir(), "copy.db")
	if err := s.Backup(t.Context(), dest); err != nil {
		t.Fatal(err)
	}
	if err := s.Backup(t.Context(), dest); err == nil {
		t.Error("an existing copy was overwritten")
	}
	c := open(t, dest)
	if err := c.Check(t.Context()); err != nil {
		t.Error(err)
	}
	if lines, err := c.Lines(t.Context(), 0, 9); err != nil || len(lines) != 1 {
		t.Errorf("%v %v", lines, err)
	}
}

func TestOpenReader(t *testing.T) {
	path := filepath.Join(t.TempDir(), "h.db")
	if _, err := store.OpenReader(t.Context(), path, quiet); !errors.Is(err, store.ErrUnavailable) {
		t.Errorf("a missing file: %v", err)
	}
	s := open(t, path)
	mustAppend(t, s, pack("n-1", noon, 12.5))
	r, err := store.OpenReader(t.Context(), path, quiet)
	if err != nil {
		t.Fatal(err)
	}
	if last := r.Last(); last != 1 || len(samples(t, r, "n-1", noon, noon+1)) != 1 {
		t.Errorf("read up to %d", last)
	}
	if _, err := r.Keep(t.Context(), store.Batch{Lines: []record.Line{{}}}); !errors.Is(err, store.ErrReadOnly) {
		t.Errorf("append: %v", err)
	}
	if err := errors.Join(r.Backup(t.Context(), path+".copy"), r.Check(t.Context()), r.Close(), s.Close()); err != nil {
		t.Error(err)
	}
	if open(t, path).Unclean() {
		t.Error("a reader left its mark")
	}
}

// Whoever gives up while the store opens has not been working on it.
func TestGivingUpAtTheStartIsNoCrash(t *testing.T) {
	path := filepath.Join(t.TempDir(), "h.db")
	if err := open(t, path).Close(); err != nil {
		t.Fatal(err)
	}
	gaveUp := 0
	for i := range 100 {
		ctx, cancel := context.WithTimeout(t.Context(), time.Duration(i)*100*time.Microsecond)
		s, err := store.Open(ctx, path, quiet)
		cancel()
		if err != nil {
			gaveUp++
			s = open(t, path)
		}
		if s.Unclean() {
			t.Fatalf("after %d attempts that gave up, the last with %v, the store is as after a crash", gaveUp, err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
}

func TestWhoWasEverHeard(t *testing.T) {
	s := fresh(t)
	mustAppend(t, s, pack("n-1", 1000, 3))
	quarantine(t, s, store.Quarantined{At: 1, Refused: record.Refused{Node: "n-2"}})
	for node, want := range map[reading.NodeID]bool{"n-1": true, "n-2": true, "n-3": false} {
		if got, err := s.Heard(t.Context(), node); err != nil || got != want {
			t.Errorf("%s: %v, %v", node, got, err)
		}
	}
}

// TestReadingAClosedStoreFails reads as a page does that is still being made
// when the daemon has stopped.
func TestReadingAClosedStoreFails(t *testing.T) {
	s := fresh(t)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Lines(t.Context(), 0, 1); err == nil {
		t.Error("lines are read from a closed store")
	}
	if _, err := s.Keep(t.Context(), store.Batch{Lines: []record.Line{{At: 1}}}); err == nil {
		t.Error("a line is kept in a closed store")
	}
}
