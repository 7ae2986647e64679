package mqtttest

import (
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"
)

// Mosquitto is a running server process.
type Mosquitto struct {
	t    testing.TB
	conf string
	addr string
	cmd  *exec.Cmd
}

// StartMosquitto starts the server with the shipped configuration, open to
// everybody on loopback, and extra lines, and stops it when the test ends. Without the program the test is
// skipped, or fails where CI is set.
func StartMosquitto(t testing.TB, extra ...string) *Mosquitto {
	t.Helper()
	if _, err := exec.LookPath("mosquitto"); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("mosquitto is not installed")
		}
		t.Skip("mosquitto is not installed")
	}
	dir := t.TempDir()
	m := &Mosquitto{t: t, conf: filepath.Join(dir, "mosquitto.conf"), addr: FreeAddr(t)}
	if err := os.WriteFile(m.conf, m.configuration(dir, extra), 0o600); err != nil {
		t.Fatal(err)
	}
	m.Start()
	t.Cleanup(func() { m.end(syscall.SIGTERM) })
	return m
}

// configuration is the shipped file with a place of the test's own.
func (m *Mosquitto) configuration(dir string, extra []string) []byte {
	shipped, err := os.ReadFile(filepath.Join(root(m.t), "testdata", "mosquitto", "mosquitto.conf"))
	if err != nil {
		m.t.Fatal(err)
	}
	host, port, _ := net.SplitHostPort(m.addr)
	conf := string(shipped)
	for line, with := range map[string]string{
		"listener": "listener " + port + " " + host, "allow_anonymous": "allow_anonymous true",
		"password_file": "", "acl_file": "", "persistence_location": "persistence_location " + dir + "/",
	} {
		conf = regexp.MustCompile(`(?m)^`+line+` .*$`).ReplaceAllLiteralString(conf, with)
	}
	if os.Getuid() == 0 {
		extra = append(extra, "user root") // else it gives up its rights and cannot write there
	}
	return []byte(conf + "\n" + strings.Join(extra, "\n") + "\n")
}

// URL is where clients connect.
func (m *Mosquitto) URL() string { return "tcp://" + m.addr }

// Addr is its host and port.
func (m *Mosquitto) Addr() string { return m.addr }

// Start starts the process again after Stop or Kill.
func (m *Mosquitto) Start() {
	m.t.Helper()
	m.cmd = exec.Command("mosquitto", "-c", m.conf)
	if err := m.cmd.Start(); err != nil {
		m.t.Fatal(err)
	}
	for start := time.Now(); ; {
		c, err := net.Dial("tcp", m.addr)
		if err == nil {
			_ = c.Close()
			return
		}
		if time.Since(start) > 10*time.Second {
			m.t.Fatal("mosquitto does not listen")
		}
		<-time.After(10 * time.Millisecond)
	}
}

// Stop ends the process in order: sessions are written to disk.
func (m *Mosquitto) Stop() { m.end(syscall.SIGTERM) }

// Kill ends the process as a power failure would.
func (m *Mosquitto) Kill() { m.end(syscall.SIGKILL) }

func (m *Mosquitto) end(sig os.Signal) {
	if m.cmd == nil {
		return
	}
	_ = m.cmd.Process.Signal(sig)
	_ = m.cmd.Wait()
	m.cmd = nil
}

// root finds the top of the source tree.
func root(t testing.TB) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for dir != "/" {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		dir = filepath.Dir(dir)
	}
	t.Fatal(fmt.Errorf("no go.mod above the test's directory"))
	return ""
}
