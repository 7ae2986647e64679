package main

import (
	"net"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// manager listens as a service manager does (sd_notify(3)).
func manager(t *testing.T) (next func() string) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "notify")
	c, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: path, Net: "unixgram"})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = c.Close() })
	t.Setenv("NOTIFY_SOCKET", path)
	return func() string {
		t.Helper()
		for {
			b := make([]byte, 512)
			_ = c.SetReadDeadline(time.Now().Add(30 * time.Second))
			n, err := c.Read(b)
			if err != nil {
				t.Fatal(err)
			}
			if word, _, _ := strings.Cut(string(b[:n]), "\n"); word != "WATCHDOG=1" {
				return word
			}
		}
	}
}

// A manager that hears STOPPING=1 ends the process when the time for stopping
// is over, so a reload must not say it.
func TestReloadIsNoStop(t *testing.T) {
	next := manager(t)
	dir := written(t, map[string]string{"heaterd.yaml": smallSite + "embedded_broker: { listen: \"127.0.0.1:0\" }\n"})
	p := startProcess(t, "run", "--config", filepath.Join(dir, "heaterd.yaml"))
	want := func(word string) {
		t.Helper()
		if got := next(); got != word {
			t.Fatalf("it told the manager %q, want %q; it said:\n%s", got, word, p.said.String())
		}
	}
	want("READY=1")
	for range 2 {
		if err := p.cmd.Process.Signal(syscall.SIGHUP); err != nil {
			t.Fatal(err)
		}
		want("RELOADING=1")
		want("READY=1")
	}
	p.stop()
	want("STOPPING=1")
}
