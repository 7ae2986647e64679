package main

import (
	"bufio"
	"context"
	"encoding/json"
	"io"

	"heaterd/config"
)

// jsonLines writes values as JSON Lines.
func jsonLines(w io.Writer) func(any) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	return func(v any) error { return enc.Encode(v) }
}

// told is one outcome of one configuration.
type told struct {
	by   int
	line string
}

// replayBoth prints the outcomes that only one of two configurations has.
func replayBoth(ctx context.Context, first, second *config.Config, captured string, std streams) error {
	var all [2][]string
	for i, cfg := range []*config.Config{first, second} {
		err := replay(ctx, cfg, captured, std, func(v any) error {
			b, err := json.Marshal(v)
			all[i] = append(all[i], string(b))
			return err
		})
		if err != nil {
			return err
		}
	}
	w := bufio.NewWriter(std.out)
	names := [2]string{first.Path, second.Path}
	for _, d := range differences(all) {
		if err := printTold(w, names[d.by], d.line); err != nil {
			return failed{err}
		}
	}
	return failure(w.Flush())
}

// differences gives what either list has more often than the other, the
// first configuration's before the second's, each in its own order.
func differences(all [2][]string) []told {
	var out []told
	for i := range all {
		other := count(all[1-i])
		for _, line := range all[i] {
			if other[line] > 0 {
				other[line]--
				continue
			}
			out = append(out, told{by: i, line: line})
		}
	}
	return out
}

func count(lines []string) map[string]int {
	n := make(map[string]int, len(lines))
	for _, l := range lines {
		n[l]++
	}
	return n
}

func printTold(w io.Writer, by, line string) error {
	name, err := json.Marshal(by)
	if err != nil {
		return err
	}
	_, err = io.WriteString(w, `{"by":`+string(name)+","+line[1:]+"\n")
	return err
}
