//go:build linux

package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"heaterd/config"
	"heaterd/ingest/mqtt/mqtttest"
)

// imageUser is the number that the image's program runs under; no file gives
// it a name.
const imageUser = 65532

// Beside the program, its folder and nothing else, as in the image: no
// libraries, time zones, users, /tmp or /proc, and no right to write anywhere
// but in that folder.
func TestNothingButTheProgram(t *testing.T) {
	if testing.Short() {
		t.Skip("it builds the program once more")
	}
	if os.Getuid() != 0 {
		t.Skip("this user may not give the program a root of its own")
	}
	g := &ground{t: t, mosquitto: mqtttest.StartMosquitto(t)}
	root := t.TempDir()
	g.furnish(root)
	cmd := exec.Command("/heaterd", "run", "--config", "/var/lib/heaterd/heaterd.yaml")
	cmd.Dir, cmd.Env = "/", []string{}
	cmd.SysProcAttr = &syscall.SysProcAttr{Chroot: root, Credential: &syscall.Credential{Uid: imageUser, Gid: imageUser}}
	p := startCommand(t, cmd)
	p.connected(1)
	wait := g.publish()
	g.allowed.Store(int64(len(g.messages)))
	wait()
	p.ready("store", true)
	g.check(g.drained(p))
}

// furnish makes a root that holds what the image does, and the configuration
// of a site in a zone that only the program itself can know.
func (g *ground) furnish(root string) {
	g.t.Helper()
	state := filepath.Join(root, "var", "lib", "heaterd")
	must := func(err error) {
		g.t.Helper()
		if err != nil {
			g.t.Fatal(err)
		}
	}
	must(os.MkdirAll(state, 0o755))
	must(os.Link(inImage.path(g.t), filepath.Join(root, "heaterd")))
	g.configure(state, g.mosquitto.URL(), 2, 6)
	body, err := os.ReadFile(g.config)
	must(err)
	moved := strings.Replace(string(body), `time_zone: "UTC"`, `time_zone: "Asia/Kathmandu"`, 1)
	if moved == string(body) {
		g.t.Fatal("the site got no other zone")
	}
	must(os.WriteFile(g.config, []byte(moved), 0o600))
	g.cfg, err = config.Load(g.config, os.LookupEnv)
	must(err)
	must(os.Chmod(root, 0o755))
	for _, path := range []string{state, g.config} {
		must(os.Chown(path, imageUser, imageUser))
	}
}
