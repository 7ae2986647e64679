//go:build unix

package main

import (
	"os"
	"os/exec"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
)

// TestTheUnitStartsAgainAfterAFault ends a process as a fault of the program
// does, and as the watchdog does, with the environment that the unit gives it.
// Go ends with 2 by itself, which is also the word for a wrong configuration.
func TestTheUnitStartsAgainAfterAFault(t *testing.T) {
	end(os.Getenv("HEATERD_ENDS"))
	unit, err := os.ReadFile("../../testdata/packaging/heaterd.service")
	if err != nil {
		t.Fatal(err)
	}
	says := func(key string) (values []string) {
		for _, m := range regexp.MustCompile(`(?m)^`+key+`=(.*)$`).FindAllStringSubmatch(string(unit), -1) {
			values = append(values, strings.Fields(m[1])...)
		}
		return values
	}
	for way, said := range map[string]string{"panic": "as asked", "watchdog": "SIGABRT"} {
		cmd := exec.Command("sh", "-c", `ulimit -c 0; exec "$0" -test.run '^TestTheUnitStartsAgain'`, os.Args[0])
		cmd.Env = append(append(os.Environ(), "HEATERD_ENDS="+way), says("Environment")...)
		out, _ := cmd.CombinedOutput()
		if status := strconv.Itoa(cmd.ProcessState.ExitCode()); slices.Contains(says("RestartPreventExitStatus"), status) {
			t.Errorf("%s: it ended with %s and would stay so: %.200s", way, status, out)
		}
		if !strings.Contains(string(out), said) {
			t.Errorf("%s: it did not end so: %.200s", way, out)
		}
	}
	if !slices.Equal(says("LimitCORE"), []string{"0"}) {
		t.Error("what it held in memory, secrets too, would be written to the disk")
	}
}

// end ends this process.
func end(way string) {
	done := make(chan struct{})
	switch way {
	case "panic":
		go func() { panic("as asked") }()
		<-done
	case "watchdog":
		_ = syscall.Kill(os.Getpid(), syscall.SIGABRT)
		<-done
	}
}
