package main

import (
	goflag "flag"
	"os"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

var update = goflag.Bool("update", false, "write the expected output in the scripts anew")

// TestMain lets scripts and tests run the program as a process of its own, and a
// benchmark what it is compared with.
func TestMain(m *testing.M) {
	testscript.Main(cleaning{m}, map[string]func(){"heaterd": main, "exporter": exporter})
}

// cleaning runs the tests and removes what they share.
type cleaning struct{ m *testing.M }

func (c cleaning) Run() int {
	defer func() {
		if built.dir != "" {
			_ = os.RemoveAll(built.dir)
		}
	}()
	return c.m.Run()
}
