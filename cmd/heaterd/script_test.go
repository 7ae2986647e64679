package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"heaterd/ingest/capture"
)

// The scripts run the program as users do. Expected lines are written anew by
// go test ./cmd/heaterd -run TestScripts -update; read the difference before
// it is committed.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		UpdateScripts:       *update,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup:               shareSite,
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"status":  scriptStatus,
			"record":  scriptRecord,
			"deliver": scriptDeliver,
			"only":    scriptOnly,
			"sorted":  scriptSorted,
			"join":    scriptJoin,
			"swap":    scriptSwap,
		},
	})
}

// shareSite gives every script the configuration of one site, and those that
// users are given to start from.
func shareSite(e *testscript.Env) error {
	for name, from := range map[string]string{
		"quay.yaml":            "testdata/script",
		"quick.yaml":           "../../testdata",
		"heaterd.yaml":         "../../testdata/packaging",
		"heaterd.yaml.example": "../../testdata/packaging",
	} {
		b, err := os.ReadFile(filepath.Join(from, name))
		if err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(e.WorkDir, name), b, 0o600); err != nil {
			return err
		}
	}
	return nil
}

// scriptStatus runs a command that must end with an exit status:
//
//	status 2 heaterd check --config bad.yaml
func scriptStatus(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: status CODE COMMAND ...")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	got := 0
	if err := ts.Exec(args[1], args[2:]...); err != nil {
		exit, ok := errors.AsType[*exec.ExitError](err)
		if !ok {
			ts.Fatalf("cannot run %s: %v", args[1], err)
		}
		got = exit.ExitCode()
	}
	if got != want {
		ts.Fatalf("exit status %d, want %d", got, want)
	}
}

// scriptRecord makes a recording of a plan:
//
//	record PLAN FILE
func scriptRecord(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: record PLAN FILE")
	}
	lines, err := compile(ts.ReadFile(args[0]))
	ts.Check(err)
	writeRecording(ts, args[1], lines)
}

func writeRecording(ts *testscript.TestScript, name string, lines []capture.Line) {
	b, err := recording(lines)
	ts.Check(err)
	scriptWrite(ts, name, string(b))
}

// scriptDeliver makes another delivery of the same messages: each is late by
// up to SPAN, and every third comes twice. What people did stays where it is,
// and so does the end.
//
//	deliver FROM TO SPAN SEED
func scriptDeliver(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 4 {
		ts.Fatalf("usage: deliver FROM TO SPAN SEED")
	}
	span, err := time.ParseDuration(args[2])
	ts.Check(err)
	seed, err := strconv.ParseUint(args[3], 10, 64)
	ts.Check(err)
	lines, err := readRecording(ts.ReadFile(args[0]))
	ts.Check(err)
	writeRecording(ts, args[1], again(lines, span, rand.New(rand.NewPCG(seed, 0))))
}

func readRecording(text string) ([]capture.Line, error) {
	var lines []capture.Line
	r := capture.NewReader(strings.NewReader(text))
	for range strings.Count(text, "\n") {
		l, err := r.Next()
		if err != nil {
			return nil, err
		}
		lines = append(lines, l)
	}
	return lines, nil
}

func again(lines []capture.Line, span time.Duration, rng *rand.Rand) []capture.Line {
	var out []capture.Line
	end := lines[len(lines)-1].At
	for i, l := range lines {
		copies := 1
		if l.Topic != "" && i%3 == 0 {
			copies = 2
		}
		for range copies {
			late := l
			if l.Topic != "" && i < len(lines)-1 {
				late.At = min(l.At.Add(time.Duration(rng.Int64N(int64(span)+1))), end)
			}
			out = append(out, late)
		}
	}
	slices.SortStableFunc(out, func(a, b capture.Line) int { return int(a.At - b.At) })
	return out
}

// scriptOnly keeps the lines of outcomes that have the given values, and of
// those the given fields where some are named:
//
//	only FROM TO KEY=VALUE[,VALUE]... [+FIELD...]
func scriptOnly(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 3 {
		ts.Fatalf("usage: only FROM TO KEY=VALUE... [+FIELD...]")
	}
	var out strings.Builder
	for line := range strings.Lines(ts.ReadFile(args[0])) {
		var all map[string]any
		ts.Check(json.Unmarshal([]byte(line), &all))
		kept, err := keep(all, line, args[2:])
		ts.Check(err)
		out.WriteString(kept)
	}
	scriptWrite(ts, args[1], out.String())
}

// keep gives what is to be shown of one line, empty where it is passed over.
func keep(all map[string]any, line string, args []string) (string, error) {
	shown := map[string]any{}
	for _, a := range args {
		if name, ok := strings.CutPrefix(a, "+"); ok {
			if v, has := all[name]; has {
				shown[name] = v
			}
			continue
		}
		key, values, _ := strings.Cut(a, "=")
		if !slices.Contains(strings.Split(values, ","), fmt.Sprint(all[key])) {
			return "", nil
		}
	}
	if len(shown) == 0 {
		return line, nil
	}
	b, err := json.Marshal(shown)
	return string(b) + "\n", err
}

// scriptSorted writes the lines of one file in order:
//
//	sorted FROM TO
func scriptSorted(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: sorted FROM TO")
	}
	lines := slices.Sorted(strings.Lines(ts.ReadFile(args[0])))
	scriptWrite(ts, args[1], strings.Join(lines, ""))
}

// scriptJoin writes files one after the other:
//
//	join TO FROM...
func scriptJoin(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: join TO FROM...")
	}
	var all strings.Builder
	for _, from := range args[1:] {
		all.WriteString(ts.ReadFile(from))
	}
	scriptWrite(ts, args[0], all.String())
}

// scriptSwap puts one text in the place of another that the file must hold:
//
//	swap FILE OLD NEW
func scriptSwap(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: swap FILE OLD NEW")
	}
	text := ts.ReadFile(args[0])
	if !strings.Contains(text, args[1]) {
		ts.Fatalf("%s does not hold %q", args[0], args[1])
	}
	scriptWrite(ts, args[0], strings.ReplaceAll(text, args[1], args[2]))
}

func scriptWrite(ts *testscript.TestScript, name, text string) {
	ts.Check(os.WriteFile(ts.MkAbs(name), []byte(text), 0o600))
}
