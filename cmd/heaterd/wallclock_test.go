//go:build linux

package main

import (
	"os"
	"os/exec"
	"syscall"
	"testing"
	"time"
)

// steppable is the program on a machine whose wall clock somebody sets:
// USR1 puts it forward by three hours and USR2 back by five. It starts at as
// many seconds from the true time as CLOCK_OFF says. As on a real machine,
// what measures durations does not notice.
var steppable = &build{name: "steppable", edits: []edit{
	{"std/time/time.go", "	sec, nsec, mono := runtimeNow()\n	if mono == 0 {", "	sec, nsec, mono := runtimeNow()\n	sec += Off.Load()\n	if mono == 0 {"},
	{"std/time/time.go", "// Now returns the current local time.", "var Off atomic.Int64\n"},
	{"std/time/time.go", "import (\n", "import (\n	\"sync/atomic\"\n"},
	{"cmd/heaterd/main.go", "import (\n", "import (\n	\"os/signal\"\n	\"strconv\"\n	\"syscall\"\n	\"time\"\n"},
	{"cmd/heaterd/main.go", "func main() {", `func init() {
	off, _ := strconv.ParseInt(os.Getenv("CLOCK_OFF"), 10, 64)
	time.Off.Store(off)
	set := make(chan os.Signal, 9)
	signal.Notify(set, syscall.SIGUSR1, syscall.SIGUSR2)
	go func() {
		for s := range set {
			off := time.Off.Add(map[os.Signal]int64{syscall.SIGUSR1: 3 * 3600, syscall.SIGUSR2: -5 * 3600}[s])
			println("clock set", off)
		}
	}()
}

func main() {`},
}}

// Somebody sets the machine's clock while messages pour in, forward and back,
// more than once and at an alarm. Nothing is lost, and what is believed is
// what the log says.
func TestClockSet(t *testing.T) {
	g := steppableGround(t)
	p := g.start()
	p.connected(1)
	wait := g.publish()
	for i, s := range []syscall.Signal{syscall.SIGUSR1, syscall.SIGUSR2, syscall.SIGUSR1, syscall.SIGUSR1, syscall.SIGUSR2} {
		g.let(i+1, 7, p)
		_ = p.cmd.Process.Signal(s)
		p.says("clock set", i+1)
	}
	g.allowed.Store(int64(len(g.messages)))
	wait()
	k := g.drained(p)
	back := 0
	for i, l := range k.lines[1:] {
		if k.lines[i].At.Sub(l.At) > 4*time.Hour {
			back++
		}
	}
	if back != 2 {
		t.Errorf("the log goes back %d times, the clock was set back twice", back)
	}
	g.check(k)
}

func steppableGround(t *testing.T) *ground {
	t.Helper()
	if testing.Short() {
		t.Skip("it compiles Go's own packages anew")
	}
	t.Parallel()
	g := newGround(t, 4, 12)
	g.program = steppable
	return g
}

// A board without a clock of its own starts a month behind, in the middle of
// the stream, and is set right a little later.
func TestClockBehindAtTheStart(t *testing.T) {
	g := steppableGround(t)
	p := g.start()
	p.connected(1)
	wait := g.publish()
	g.let(1, 3, p)
	p.kill()
	cmd := exec.Command(steppable.path(t), "run", "--config", g.config)
	cmd.Env = append(os.Environ(), "CLOCK_OFF=-2592000")
	p = startCommand(t, cmd)
	p.says("the clock of this machine is behind the log", 1)
	p.connected(1)
	g.let(2, 3, p)
	g.settle(p)
	p.stop()
	p = g.start()
	p.connected(1)
	g.allowed.Store(int64(len(g.messages)))
	wait()
	g.checkBelief(g.drained(p)) // a message that came before and after is placed by either clock
}
