package main

import (
	"bytes"
	"encoding/json"
	"net/http"
	"os/exec"
	"regexp"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// process is a running daemon.
type process struct {
	t     testing.TB
	cmd   *exec.Cmd
	said  lockedBuffer
	ended chan struct{} // closed once err is set
	err   error
}

// startProcess runs the program; the test's end kills it where it still runs.
func startProcess(t *testing.T, args ...string) *process {
	t.Helper()
	return startCommand(t, exec.Command(asShipped.path(t), args...))
}

func startCommand(t testing.TB, cmd *exec.Cmd) *process {
	t.Helper()
	p := &process{t: t, cmd: cmd, ended: make(chan struct{})}
	p.cmd.Stdout, p.cmd.Stderr = &p.said, &p.said
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	go func() { p.err = p.cmd.Wait(); close(p.ended) }()
	t.Cleanup(p.kill)
	return p
}

// kill ends the process as a power failure would.
func (p *process) kill() {
	_ = p.cmd.Process.Signal(syscall.SIGKILL)
	<-p.ended
}

// stop asks the process to end, and says how long it took.
func (p *process) stop() time.Duration {
	p.t.Helper()
	begun := time.Now()
	_ = p.cmd.Process.Signal(syscall.SIGTERM)
	select {
	case <-p.ended:
	case <-time.After(30 * time.Second):
		p.t.Fatalf("it does not stop; it said:\n%s", p.said.String())
	}
	if p.err != nil && !p.unbegun() {
		p.t.Fatalf("an orderly stop ended with %v; it said:\n%s", p.err, p.said.String())
	}
	return time.Since(begun)
}

// unbegun reports whether the signal ended the process before its main began:
// until then no program can take it, and nothing has been touched.
func (p *process) unbegun() bool {
	status, ok := p.cmd.ProcessState.Sys().(syscall.WaitStatus)
	return ok && status.Signaled() && status.Signal() == syscall.SIGTERM && p.said.String() == ""
}

// lockedBuffer takes what a process says while a test may look.
type lockedBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lockedBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lockedBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

// connected waits until the daemon has come to its broker, and subscribed, n
// times in its life.
func (p *process) connected(n int) { p.t.Helper(); p.says(`msg="broker connected"`, n) }

// says waits until the process has said something n times.
func (p *process) says(what string, n int) {
	p.t.Helper()
	p.until("it does not say "+what, func() bool { return strings.Count(p.said.String(), what) >= n })
}

// pagesSaid finds where it says its pages are.
var pagesSaid = regexp.MustCompile(`msg="heaterd runs".* pages=(\S+)`)

// ready waits until the daemon says of a part that it works, or that it does
// not.
func (p *process) ready(part string, works bool) {
	p.t.Helper()
	said := pagesSaid.FindStringSubmatch(p.said.String())
	if said == nil {
		p.t.Fatalf("it does not say where its pages are:\n%s", p.said.String())
	}
	p.until("/readyz does not say so of the "+part, func() bool {
		resp, err := http.Get(said[1] + "/readyz") //nolint:noctx // of the daemon that the test started
		if err != nil {
			return false
		}
		defer resp.Body.Close()
		var checks []struct {
			Name string
			OK   bool
		}
		if err := json.NewDecoder(resp.Body).Decode(&checks); err != nil {
			return false
		}
		for _, c := range checks {
			if c.Name == part {
				return c.OK == works && (works || resp.StatusCode == http.StatusServiceUnavailable)
			}
		}
		return false
	})
}

// until waits for something that a process which goes on running leads to.
func (p *process) until(otherwise string, ok func() bool) {
	p.t.Helper()
	for end := time.Now().Add(time.Minute); !ok(); breathe() {
		select {
		case <-p.ended:
			p.t.Fatalf("it ended by itself, %v; it said:\n%s", p.err, p.said.String())
		default:
		}
		if time.Now().After(end) {
			p.t.Fatalf("%s; it said:\n%s", otherwise, p.said.String())
		}
	}
}

// breathe lets others work while something is awaited that tells nobody.
func breathe() { <-time.After(2 * time.Millisecond) }
