package main

import (
	"cmp"
	"fmt"
	"io"
	"maps"
	"slices"

	"heaterd/alerts/fold"
	"heaterd/config"
	"heaterd/ingest/capture"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// unused sifts the lines of a recording as the daemon would sift the messages,
// and counts what nothing came of, for otherwise a mistyped name would pass in
// silence.
type unused struct {
	cfg    *config.Config
	engine *fold.Engine
	lines  int
	why    map[string]int
}

func newUnused(cfg *config.Config, engine *fold.Engine) *unused {
	return &unused{cfg: cfg, engine: engine, why: map[string]int{}}
}

// sift makes a line of the log from a line of the recording.
func (u *unused) sift(l capture.Line) record.Line {
	u.lines++
	out := lineOf(u.cfg.Sources, l)
	node := out.Node()
	site, known := u.engine.SiteOf(node)
	if out.Pack != nil && out.Pack.Spoilt != nil {
		u.why[fmt.Sprintf("left out: a value of a message, %s: %s", out.Pack.Spoilt.Reason, l.Topic)]++
	}
	switch {
	case out.Refused != nil:
		u.why[fmt.Sprintf("left out: refused, %s: %s", out.Refused.Reason, out.Refused.Topic)]++
	case node != "" && !known:
		u.why[fmt.Sprintf("left out: node %s is on no heater", node)]++
	case node != "" && elsewhere(u.cfg, l.Topic, site):
		u.why[fmt.Sprintf("left out: refused, %s: %s is not the site of node %s", reading.BadTopic, l.Topic, node)]++
		return record.Line{At: out.At}
	}
	return out
}

// wrong counts the entries and answers that were not taken as they are.
func (u *unused) wrong(errs []error) {
	for _, err := range errs {
		u.why[err.Error()]++
	}
}

// unusedShown is how many different reasons are told one by one.
const unusedShown = 20

// tell writes how often each reason was met, the most frequent first.
func (u *unused) tell(w io.Writer) {
	if u.lines == 0 {
		fmt.Fprintln(w, "heaterd: the recording holds no line")
	}
	reasons := slices.SortedFunc(maps.Keys(u.why), func(a, b string) int {
		return cmp.Or(cmp.Compare(u.why[b], u.why[a]), cmp.Compare(a, b))
	})
	for _, r := range reasons[:min(len(reasons), unusedShown)] {
		fmt.Fprintf(w, "heaterd: %d × %s\n", u.why[r], r)
	}
	if more := len(reasons) - unusedShown; more > 0 {
		fmt.Fprintf(w, "heaterd: and %d more reasons\n", more)
	}
}
