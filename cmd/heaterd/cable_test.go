//go:build linux

package main

import (
	"cmp"
	"errors"
	"os"
	"os/exec"
	"regexp"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"heaterd/ingest/mqtt/mqtttest"
)

// cable leads from the broker to the daemon, which is alone at its far end: a
// network of the kernel's, in place of a program that plays one.
type cable struct {
	t   *testing.T
	far string // a process at the far end
}

const (
	nearAddr  = "10.87.0.1"
	farAddr   = "10.87.0.2"
	otherAddr = "10.87.0.3" // of the far end, once it got another
	inOwnNet  = "HEATERD_TEST_OWN_NETWORK"
)

// inNetworkOfItsOwn runs the test again, as a process that sees nothing of
// the machine's network and may do with its own what it likes; it gives false
// in that process. Not every system allows that.
func inNetworkOfItsOwn(t *testing.T) bool {
	t.Helper()
	if os.Getenv(inOwnNet) != "" {
		return false
	}
	for _, tool := range []string{"ip", "tc", "nsenter"} {
		if _, err := exec.LookPath(tool); err != nil {
			t.Skip(tool + " is not installed")
		}
	}
	cmd := exec.Command(os.Args[0], "-test.run", "^"+t.Name()+"$", "-test.v", "-test.timeout", "10m")
	cmd.Env = append(os.Environ(), inOwnNet+"=1")
	cmd.SysProcAttr = &syscall.SysProcAttr{
		Cloneflags:  syscall.CLONE_NEWUSER | syscall.CLONE_NEWNET,
		UidMappings: []syscall.SysProcIDMap{{HostID: os.Getuid(), Size: 1}},
		GidMappings: []syscall.SysProcIDMap{{HostID: os.Getgid(), Size: 1}},
	}
	out, err := cmd.CombinedOutput()
	if errors.Is(err, syscall.EPERM) || errors.Is(err, syscall.EINVAL) || errors.Is(err, syscall.ENOSPC) {
		t.Skip("this system lets nobody make a network")
	}
	t.Logf("%s", out)
	if err != nil {
		t.Error(err)
	}
	return true
}

// layCable lays it; the test's end takes it away.
func layCable(t *testing.T) *cable {
	t.Helper()
	far := exec.Command("sleep", "infinity")
	far.SysProcAttr = &syscall.SysProcAttr{Cloneflags: syscall.CLONE_NEWNET}
	if err := far.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = far.Process.Kill(); _ = far.Wait() })
	c := &cable{t, strconv.Itoa(far.Process.Pid)}
	c.near("ip link set lo up")
	c.near("ip link add near type veth peer name far netns " + c.far)
	c.near("ip addr add " + nearAddr + "/24 dev near")
	c.near("ip link set near up")
	c.beyond("ip link set lo up")
	c.beyond("ip addr add " + farAddr + "/24 dev far")
	c.beyond("ip link set far up")
	t.Cleanup(func() { _ = exec.Command("ip", "link", "del", "near").Run() })
	return c
}

// near runs a command at the broker's end, beyond at the daemon's.
func (c *cable) near(command string) (said string) {
	c.t.Helper()
	args := strings.Fields(command)
	out, err := exec.Command(args[0], args[1:]...).CombinedOutput()
	if err != nil {
		c.t.Fatalf("%s: %v\n%s", command, err, out)
	}
	return string(out)
}

func (c *cable) beyond(command string) {
	c.t.Helper()
	c.near("nsenter -t " + c.far + " -n " + command)
}

// cableGround has the daemon at the far end.
func cableGround(t *testing.T) (*ground, *cable) {
	t.Helper()
	c := layCable(t)
	g := &ground{t: t, program: impatient, mosquitto: mqtttest.StartMosquitto(t, "listener 1883 "+nearAddr)}
	g.configure(t.TempDir(), "tcp://"+nearAddr+":1883", 4, 12)
	return g, c
}

func (g *ground) startBeyond(c *cable) *process {
	g.t.Helper()
	program := cmp.Or(g.program, asShipped).path(g.t)
	return startCommand(g.t, exec.Command("nsenter", "-t", c.far, "-n", program, "run", "--config", g.config))
}

var cableHardships = []struct {
	name string
	do   func(*ground, *process, *cable)
}{
	{"pulled", func(g *ground, p *process, c *cable) {
		for i := range 2 {
			g.let(2*i+1, 6, p)
			c.near("ip link set near down")
			g.let(2*i+2, 6, p)
			p.says(`err="lost: `, i+1) // not the tries that fail after it: they would be taken for the next loss
			c.near("ip link set near up")
			p.connected(i + 2)
		}
	}},
	{"loose", func(g *ground, p *process, c *cable) {
		for i := range 5 {
			c.near("ip link set near down")
			g.let(i+1, 6, p)
			<-time.After(200 * time.Millisecond)
			c.near("ip link set near up")
			<-time.After(200 * time.Millisecond)
		}
	}},
	{"too thin for what comes", func(g *ground, p *process, c *cable) { // what does not fit is dropped
		c.near("tc qdisc add dev near root tbf rate 200kbit burst 3kb limit 6kb")
		c.beyond("tc qdisc add dev far root tbf rate 50kbit burst 2kb limit 3kb")
		g.let(6, 6, p)
		<-time.After(5 * time.Second)
		if said := c.near("tc -s qdisc show dev near"); !regexp.MustCompile(`dropped [1-9]`).MatchString(said) {
			g.t.Errorf("nothing was dropped:\n%s", said)
		}
		c.near("tc qdisc del dev near root")
		c.beyond("tc qdisc del dev far root")
	}},
	{"another address", func(g *ground, p *process, c *cable) { // nobody ends the old connection
		g.let(3, 6, p)
		c.beyond("ip addr del " + farAddr + "/24 dev far")
		c.beyond("ip addr add " + otherAddr + "/24 dev far")
		g.let(5, 6, p)
		p.connected(2)
	}},
}

// Whatever happens to the cable between daemon and broker, nothing is lost,
// and what is believed does not depend on it.
func TestCableInTrouble(t *testing.T) {
	if testing.Short() {
		t.Skip("TestNetworkInTrouble goes the same ways")
	}
	if inNetworkOfItsOwn(t) {
		return
	}
	for _, h := range cableHardships {
		t.Run(h.name, func(t *testing.T) {
			g, c := cableGround(t)
			p := g.startBeyond(c)
			p.connected(1)
			wait := g.publish()
			h.do(g, p, c)
			g.allowed.Store(int64(len(g.messages)))
			wait()
			g.check(g.drained(p))
		})
	}
}
