package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"time"
)

// bar shows how much of a recording was replayed, on a terminal only.
type bar struct {
	in    io.Reader
	out   io.Writer
	total int64
	read  int64
	shown time.Time
}

// barWidth is the number of characters of a full bar.
const barWidth = 30

// progress reads in and shows how far it got on out. In a pipe, or for an
// input of unknown size, it shows nothing.
func progress(out io.Writer, in io.Reader) *bar {
	b := &bar{in: in}
	f, isFile := in.(*os.File)
	if !isFile || !isTerminal(out) {
		return b
	}
	if st, err := f.Stat(); err == nil && st.Mode().IsRegular() {
		b.out, b.total = out, st.Size()
	}
	return b
}

func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	if !ok {
		return false
	}
	st, err := f.Stat()
	return err == nil && st.Mode()&os.ModeCharDevice != 0
}

func (b *bar) Read(p []byte) (int, error) {
	n, err := b.in.Read(p)
	b.read += int64(n)
	if b.total > 0 && time.Since(b.shown) > 200*time.Millisecond {
		b.shown = time.Now()
		b.draw()
	}
	return n, err
}

func (b *bar) draw() {
	full := int(barWidth * b.read / max(b.total, 1))
	fmt.Fprintf(b.out, "\rreplay [%s%s] %3d %%",
		strings.Repeat("=", full), strings.Repeat(" ", barWidth-full), 100*b.read/max(b.total, 1))
}

// done ends the line.
func (b *bar) done() {
	if b.total > 0 && !b.shown.IsZero() {
		b.draw()
		fmt.Fprintln(b.out)
	}
}
