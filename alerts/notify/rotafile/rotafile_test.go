package rotafile_test

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"heaterd/alerts/notify/rotafile"
)

func TestFetch(t *testing.T) {
	path := filepath.Join(t.TempDir(), "rota.ics")
	if err := os.WriteFile(path, []byte("BEGIN"), 0o600); err != nil {
		t.Fatal(err)
	}
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch r.URL.Path {
		case "/rota":
			_, _ = io.WriteString(w, "BEGIN")
		case "/long":
			_, _ = io.WriteString(w, strings.Repeat("x", 1<<20+1))
		default:
			http.NotFound(w, r)
		}
	}))
	t.Cleanup(s.Close)
	for where, want := range map[string]string{path: "BEGIN", s.URL + "/rota": "BEGIN", s.URL + "/long": "", s.URL + "/key123": "", path + "x": "", "http://127.0.0.1:1/key123": ""} {
		got, err := rotafile.Fetch(t.Context(), where)
		if string(got) != want || (err == nil) != (want != "") {
			t.Errorf("%s: %.20q %v", where, got, err)
		}
		if err != nil && strings.Contains(err.Error(), "key123") {
			t.Errorf("%v says the key", err)
		}
	}
}

// A calendar that cannot be used is tried again, and one that did not change
// is left alone.
func TestFollow(t *testing.T) {
	answers := []string{"a", "a", "bad", "bad", "a", "b"}
	asked := 0
	ctx, cancel := context.WithCancel(t.Context())
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if asked >= len(answers) {
			cancel()
			return
		}
		_, _ = io.WriteString(w, answers[asked])
		asked++
	}))
	t.Cleanup(s.Close)
	var used []string
	use := func(body []byte) error {
		if ctx.Err() == nil && len(body) > 0 {
			used = append(used, string(body))
		}
		if string(body) == "bad" {
			return errors.New("unreadable")
		}
		return nil
	}
	var said []bool
	word := func(err error) { said = append(said, err == nil) }
	if err := rotafile.Follow(ctx, s.URL, time.Millisecond, nil, use, word, slog.New(slog.DiscardHandler)); err != nil {
		t.Fatal(err)
	}
	if want := []string{"a", "bad", "bad", "a", "b"}; !slices.Equal(used, want) {
		t.Errorf("used %q, want %q", used, want)
	}
	if want := []bool{true, true, false, false, true, true}; !slices.Equal(said[:len(want)], want) {
		t.Errorf("said of each look whether it was read: %v, want %v", said, want)
	}
}

// What the start has just fetched is not fetched again at once: its server may
// count who asks.
func TestFollowGoesOnFromTheStart(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, end := context.WithTimeout(t.Context(), 40*time.Minute)
		defer end()
		path := filepath.Join(t.TempDir(), "rota.ics")
		if err := os.WriteFile(path, []byte("known"), 0o600); err != nil {
			t.Fatal(err)
		}
		looks, begun := []time.Duration(nil), time.Now()
		use := func([]byte) error { t.Error("what is known was used again"); return nil }
		word := func(error) { looks = append(looks, time.Since(begun)) }
		if err := rotafile.Follow(ctx, path, 15*time.Minute, []byte("known"), use, word, slog.New(slog.DiscardHandler)); err != nil {
			t.Fatal(err)
		}
		if want := []time.Duration{15 * time.Minute, 30 * time.Minute}; !slices.Equal(looks, want) {
			t.Errorf("looked after %v, want %v", looks, want)
		}
	})
}

// Whoever reads the log learns what to do about a calendar that is wrong, and
// when it is looked at again.
func TestFollowSaysWhatToDo(t *testing.T) {
	ctx, end := context.WithCancel(t.Context())
	defer end()
	path := filepath.Join(t.TempDir(), "rota.ics")
	if err := os.WriteFile(path, []byte("bad"), 0o600); err != nil {
		t.Fatal(err)
	}
	said := onceSaid{then: end}
	use := func([]byte) error { return errors.New("line 3 is no event") }
	if err := rotafile.Follow(ctx, path, 15*time.Minute, nil, use, func(error) {}, slog.New(slog.NewTextHandler(&said, nil))); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"mend it", "next_try_in=15m0s", "line 3 is no event"} {
		if !strings.Contains(said.String(), want) {
			t.Errorf("%q lacks %q", said.String(), want)
		}
	}
}

// onceSaid keeps what is logged, and ends the wait for it.
type onceSaid struct {
	strings.Builder
	then func()
}

func (o *onceSaid) Write(b []byte) (int, error) {
	defer o.then()
	return o.Builder.Write(b)
}
