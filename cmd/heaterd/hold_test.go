//go:build unix

package main

import (
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestOneStoreHasOneDaemon starts a second daemon on the store of a first, on
// other addresses: both would conclude from the same log, each by its own
// configuration, and the second would take the mark of a clean stop from the
// first.
func TestOneStoreHasOneDaemon(t *testing.T) {
	own := smallSite + "embedded_broker: { listen: \"127.0.0.1:0\", path: "
	dir := written(t, map[string]string{"first.yaml": own + "one }\n", "second.yaml": own + "two }\n"})
	first := startProcess(t, "run", "--config", filepath.Join(dir, "first.yaml"))
	first.says("heaterd runs", 1)
	second := startProcess(t, "run", "--config", filepath.Join(dir, "second.yaml"))
	select {
	case <-second.ended:
	case <-time.After(20 * time.Second):
		second.kill()
	}
	if said := second.said.String(); second.cmd.ProcessState.ExitCode() != 1 || !strings.Contains(said, "another heaterd has the store") {
		t.Errorf("it ended with %d and said %s", second.cmd.ProcessState.ExitCode(), said)
	}
	first.kill()
	third := startProcess(t, "run", "--config", filepath.Join(dir, "second.yaml"))
	third.says("heaterd runs", 1)
	if !strings.Contains(third.said.String(), "not clean") {
		t.Error("the first was killed, and the next start does not know")
	}
	third.stop()
}
