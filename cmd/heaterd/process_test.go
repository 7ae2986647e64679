package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// built is where the program was built, once for all tests that run it as a
// process of its own.
var built struct {
	once sync.Once
	dir  string
	err  error
}

func binary(t *testing.T) string {
	t.Helper()
	built.once.Do(func() {
		if built.dir, built.err = os.MkdirTemp("", "heaterd-test-"); built.err != nil {
			return
		}
		out, err := exec.Command("go", "build", "-o", built.dir, ".").CombinedOutput()
		if err != nil {
			built.err = fmt.Errorf("cannot build: %w\n%s", err, out)
		}
	})
	if built.err != nil {
		t.Fatal(built.err)
	}
	return filepath.Join(built.dir, "heaterd")
}

// process is a running daemon.
type process struct {
	t     *testing.T
	cmd   *exec.Cmd
	said  lockedBuffer
	ended chan struct{} // closed once err is set
	err   error
}

// startProcess runs the program; the test's end kills it where it still runs.
func startProcess(t *testing.T, args ...string) *process {
	t.Helper()
	p := &process{t: t, cmd: exec.Command(binary(t), args...), ended: make(chan struct{})}
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
	if p.err != nil {
		p.t.Fatalf("an orderly stop ended with %v; it said:\n%s", p.err, p.said.String())
	}
	return time.Since(begun)
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
func (p *process) connected(n int) {
	p.t.Helper()
	for end := time.Now().Add(30 * time.Second); strings.Count(p.said.String(), `msg="broker connected"`) < n; breathe() {
		select {
		case <-p.ended:
			p.t.Fatalf("it ended by itself, %v; it said:\n%s", p.err, p.said.String())
		default:
		}
		if time.Now().After(end) {
			p.t.Fatalf("it does not come to its broker; it said:\n%s", p.said.String())
		}
	}
}

// breathe lets others work while something is awaited that tells nobody.
func breathe() { <-time.After(2 * time.Millisecond) }
