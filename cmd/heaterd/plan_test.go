package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"heaterd/ingest/capture"
	"heaterd/ingest/reading"
)

// A plan is a recording as a person would write it down. Each line tells
// what a node said, from when to when and how often, or what somebody did:
//
//	day 2026-01-12
//	06:00..06:40/30s n-07 flame=1 runtime=1000+ co=3 temp=8->12
//	06:40:30         n-07 flame=0 runtime=+ co=3 temp=12 late=2h
//	07:00            status n-07 offline
//	07:10            entry {"heater":"H-07","task":"refuel"}
//
// Hours above 23 are the next day's. a->b goes evenly from a to b; runtime (s)
// counts on while the flame is lit; co is in ppm, temp in °C, fuel a ratio and
// battery in per cent; late is how long after its measurement the message
// arrives.
type plan struct {
	day     time.Time
	runtime map[string]float64
	lines   []capture.Line
}

func compile(text string) ([]capture.Line, error) {
	p := plan{runtime: map[string]float64{}}
	for i, line := range strings.Split(text, "\n") {
		line, _, _ = strings.Cut(line, "#")
		if strings.TrimSpace(line) == "" {
			continue
		}
		if err := p.line(strings.TrimSpace(line)); err != nil {
			return nil, fmt.Errorf("line %d of the plan: %w", i+1, err)
		}
	}
	slices.SortStableFunc(p.lines, func(a, b capture.Line) int { return int(a.At - b.At) })
	return p.lines, nil
}

func (p *plan) line(line string) (err error) {
	word, rest, _ := strings.Cut(line, " ")
	rest = strings.TrimSpace(rest)
	if word == "day" {
		p.day, err = time.Parse(time.DateOnly, rest)
		return err
	}
	w, err := p.when(word)
	if err != nil {
		return err
	}
	who, what, _ := strings.Cut(rest, " ")
	switch who {
	case "entry", "withdraw", "planned_stop", "answer":
		return p.deed(w.from, who, what)
	case "status":
		node, state, _ := strings.Cut(what, " ")
		p.message(w.from, node, "status", []byte(state))
		return nil
	}
	return p.telemetry(w, who, strings.Fields(what))
}

// when is a moment, or a stretch with a step.
type when struct {
	from, to reading.Instant
	step     time.Duration
}

func (p *plan) when(text string) (w when, err error) {
	span, step, stepped := strings.Cut(text, "/")
	from, to, ranged := strings.Cut(span, "..")
	if w.from, err = p.moment(from); err != nil || !ranged {
		w.to, w.step = w.from, time.Second
		return w, err
	}
	if !stepped {
		return w, fmt.Errorf("%s has no step", text)
	}
	if w.to, err = p.moment(to); err != nil {
		return w, err
	}
	w.step, err = time.ParseDuration(step)
	return w, err
}

func (p *plan) moment(text string) (reading.Instant, error) {
	var at time.Duration
	for i, part := range strings.Split(text, ":") {
		n, err := strconv.Atoi(part)
		if err != nil || i > 2 {
			return 0, fmt.Errorf("%q is no time of day", text)
		}
		at += time.Duration(n) * []time.Duration{time.Hour, time.Minute, time.Second}[i]
	}
	return reading.InstantOf(p.day.Add(at)), nil
}

// deed writes what a person did in the words of the capture format.
func (p *plan) deed(at reading.Instant, kind, body string) error {
	line, err := capture.NewReader(strings.NewReader(fmt.Sprintf(`{"at":%q,%q:%s}`, at, kind, body))).Next()
	p.lines = append(p.lines, line)
	return err
}

func (p *plan) message(at reading.Instant, node, kind string, payload []byte) {
	p.lines = append(p.lines, capture.Line{At: at, Topic: "sites/quay/nodes/" + node + "/" + kind, Payload: payload})
}

func (p *plan) telemetry(w when, node string, fields []string) error {
	for at := w.from; at <= w.to; at = at.Add(w.step) {
		share := 0.0
		if w.to > w.from {
			share = float64(at-w.from) / float64(w.to-w.from)
		}
		m := pack{{"bn": node + "/", "bt": float64(at) / 1e6}}
		late, err := p.fill(&m, node, fields, share, w.step)
		if err != nil {
			return err
		}
		body, err := json.Marshal(m[1:].under(m[0]))
		if err != nil {
			return err
		}
		p.message(at.Add(late), node, "telemetry", body)
	}
	return nil
}

// pack is SenML, the base fields first.
type pack []map[string]any

// under gives the records with the base fields in the first.
func (m pack) under(base map[string]any) pack {
	for k, v := range base {
		m[0][k] = v
	}
	return m
}

var units = map[string]string{"runtime": "s", "co": "ppm", "temp": "Cel", "fuel": "/", "battery": "%EL"}

func (p *plan) fill(m *pack, node string, fields []string, share float64, step time.Duration) (late time.Duration, err error) {
	for _, f := range fields {
		name, value, _ := strings.Cut(f, "=")
		switch name {
		case "late":
			if late, err = time.ParseDuration(value); err != nil {
				return 0, err
			}
		case "flame", "supply", "call":
			*m = append(*m, map[string]any{"n": name, "vb": value == "1"})
		case "runtime":
			if err := p.count(node, value, slices.Contains(fields, "flame=1"), step); err != nil {
				return 0, err
			}
			*m = append(*m, map[string]any{"n": name, "u": "s", "v": p.runtime[node]})
		default:
			v, err := between(value, share)
			if err != nil {
				return 0, fmt.Errorf("%s: %w", f, err)
			}
			*m = append(*m, map[string]any{"n": name, "u": units[name], "v": v})
		}
	}
	return late, nil
}

// count moves a node's run-hour counter: "1000+" begins it there unless it
// runs already, "+" carries on, a bare number sets it.
func (p *plan) count(node, value string, lit bool, step time.Duration) error {
	start, more := strings.CutSuffix(value, "+")
	if _, runs := p.runtime[node]; runs && more {
		if lit {
			p.runtime[node] += step.Seconds()
		}
		return nil
	}
	v, err := strconv.ParseFloat(start, 64)
	p.runtime[node] = v
	return err
}

func between(value string, share float64) (float64, error) {
	from, to, ramp := strings.Cut(value, "->")
	a, err := strconv.ParseFloat(from, 64)
	if err != nil || !ramp {
		return a, err
	}
	b, err := strconv.ParseFloat(to, 64)
	return a + share*(b-a), err
}

// recording writes lines as a capture file.
func recording(lines []capture.Line) ([]byte, error) {
	var b bytes.Buffer
	w := capture.NewWriter(&b)
	for _, l := range lines {
		if err := w.Write(l); err != nil {
			return nil, err
		}
	}
	return b.Bytes(), nil
}

func TestPlan(t *testing.T) {
	lines, err := compile("day 2026-01-12\n06:00..06:01/30s n-07 flame=1 runtime=1000+ temp=8->10\n06:00:45 n-07 co=3 late=1h\n25:00 status n-07 offline # next day\n" +
		`06:30 planned_stop {"heater":"H-07","for":"2h"}`)
	if err != nil {
		t.Fatal(err)
	}
	got, err := recording(lines)
	if err != nil {
		t.Fatal(err)
	}
	want := []string{
		`"at":"2026-01-12T06:00:00Z"`, `\"v\":1000}`, `\"v\":8}`, `\"v\":1030}`, `\"v\":9}`, `\"v\":1060}`, `\"v\":10}`,
		`"at":"2026-01-12T06:30:00Z"`, `"for":"2h0m0s"`, `"at":"2026-01-12T07:00:45Z"`, `\"u\":\"ppm\"`, `"at":"2026-01-13T01:00:00Z"`, "offline",
	}
	rest := string(got)
	for _, w := range want {
		i := strings.Index(rest, w)
		if i < 0 {
			t.Fatalf("no %s, in this order, in:\n%s", w, got)
		}
		rest = rest[i:]
	}
}
