package main

import (
	"context"
	"io"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"
)

// lines gives what is written to it to a channel, write by write.
type lines chan string

func (l lines) Write(b []byte) (int, error) { l <- string(b); return len(b), nil }

// TestTheDemoTellsPeople runs the demo until its invented people are told of
// the carbon monoxide, and follows the link of that message.
func TestTheDemoTellsPeople(t *testing.T) {
	if testing.Short() {
		t.Skip("runs through some hours of the model")
	}
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	out, ended := make(lines, 4), make(chan error, 1)
	go func() {
		ended <- demo(ctx, demoOptions{listen: "127.0.0.1:0", speed: 60, seed: 1, past: demoPast}, streams{out: out, err: io.Discard})
	}()
	defer func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	}()
	phones := regexp.MustCompile(`phones +(\S+)`).FindStringSubmatch(<-out)[1]
	told := regexp.MustCompile(`(?s)<b>(?:Robin|Sam)</b>[^<]*</p><p>[^<]*CO [^<]*Pour tent[^<]*</p>\s*<a href="([^"]+)"`)
	for range time.Tick(100 * time.Millisecond) {
		page := fetch(t, phones)
		if m := told.FindStringSubmatch(page); m != nil {
			if link := fetch(t, m[1]); !strings.Contains(link, "Pour tent") || !strings.Contains(link, "Acknowledge") {
				t.Errorf("the link leads to %s", link)
			}
			if clock := regexp.MustCompile(`</b>, \w{3} \d\d:\d\d (\w+)</p>`).FindStringSubmatch(page); clock == nil || !strings.HasPrefix(clock[1], "C") {
				t.Errorf("the clock of a telephone in Chicago shows %q", clock)
			}
			return
		}
		if ctx.Err() != nil {
			t.Fatalf("nobody was told: %s", page)
		}
	}
}

func fetch(t *testing.T, url string) string {
	t.Helper()
	r, err := http.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	b, err := io.ReadAll(r.Body)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}
