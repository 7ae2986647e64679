package history

import (
	"context"
	"errors"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"

	influx "github.com/influxdata/influxdb-client-go/v2/api/http"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// shelf is a log and a memory.
type shelf struct {
	mu        sync.Mutex
	lines     []record.Line
	compacted int64
	cursor    int64
	body      []byte
	kept      int
	broken    error
}

func (s *shelf) Lines(_ context.Context, after int64, limit int) ([]record.Line, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.broken != nil {
		return nil, s.broken
	}
	rest := s.lines[min(int(max(after, s.compacted)), len(s.lines)):]
	return rest[:min(limit, len(rest))], nil
}

func (s *shelf) Last() int64 {
	s.mu.Lock()
	defer s.mu.Unlock()
	return int64(len(s.lines))
}

func (s *shelf) Compacted(context.Context) (int64, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.compacted, nil
}

// compact takes the lines up to one away; their readings are the hours'.
func (s *shelf) compact(upto int64) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.compacted = upto
}

// gone gives the readings of the lines taken away.
func (s *shelf) gone(f func(reading.NodeID, reading.Sample)) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, l := range s.lines[:s.compacted] {
		for _, x := range l.Pack.Samples {
			f(l.Pack.Node, x)
		}
	}
}

func hourOf(i reading.Instant) reading.Instant {
	return reading.InstantOf(i.Time().Truncate(time.Hour))
}

func (s *shelf) CompactedSpan(context.Context) (from, to reading.Instant, err error) {
	s.gone(func(_ reading.NodeID, x reading.Sample) {
		if hour := hourOf(x.At); from == to {
			from, to = hour, hour.Add(time.Hour)
		} else {
			from, to = min(from, hour), max(to, hour.Add(time.Hour))
		}
	})
	return from, to, nil
}

func (s *shelf) CompactedHour(_ context.Context, at reading.Instant, f func(reading.NodeID, []reading.Sample)) (
	next reading.Instant, ok bool, err error) {
	found := map[reading.NodeID][]reading.Sample{}
	s.gone(func(id reading.NodeID, x reading.Sample) {
		switch hour := hourOf(x.At); {
		case hour == hourOf(at):
			found[id] = append(found[id], x)
		case hour > at && (!ok || hour < next):
			next, ok = hour, true
		}
	})
	for id, all := range found {
		f(id, all)
	}
	return next, ok, nil
}

func (s *shelf) Samples(_ context.Context, id reading.NodeID, from, to reading.Instant, f func(reading.Sample) bool) error {
	s.gone(func(of reading.NodeID, x reading.Sample) {
		if of == id && from <= x.At && x.At < to {
			f(x)
		}
	})
	return nil
}

func (s *shelf) SaveSnapshot(_ context.Context, _ string, cursor int64, body []byte) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.cursor, s.body, s.kept = cursor, body, s.kept+1
	return nil
}

func (s *shelf) LoadSnapshot(context.Context, string) (int64, []byte, bool, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.cursor, s.body, s.body != nil, nil
}

// add appends a pack of one node with a sample at each of the instants.
func (s *shelf) add(node reading.NodeID, at ...time.Time) {
	p := record.Line{Pack: &reading.Pack{Node: node}}
	for _, t := range at {
		p.Pack.Samples = append(p.Pack.Samples, reading.Sample{
			At: reading.InstantOf(t), CO: 12.5, Temp: 8, Has: reading.CO | reading.Temp | reading.Flame, On: reading.Flame,
		})
	}
	s.put(p)
}

func (s *shelf) fail(err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.broken = err
}

func (s *shelf) put(l record.Line) {
	s.mu.Lock()
	defer s.mu.Unlock()
	l.ID = int64(len(s.lines) + 1)
	if l.At == 0 {
		l.At = reading.InstantOf(time.Now())
	}
	s.lines = append(s.lines, l)
}

// bank takes records as the rules tell it.
type bank struct {
	mu     sync.Mutex
	has    map[string]int // record: how often taken
	tried  []time.Time
	sizes  []int
	answer func(batch []string) error // nil: taken
}

func (b *bank) WriteRecord(_ context.Context, line ...string) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.tried, b.sizes = append(b.tried, time.Now()), append(b.sizes, len(line))
	if b.answer != nil {
		if err := b.answer(line); err != nil {
			return err
		}
	}
	if b.has == nil {
		b.has = map[string]int{}
	}
	for _, l := range line {
		b.has[l]++
	}
	return nil
}

// tries gives when each write came.
func (b *bank) tries() []time.Time {
	b.mu.Lock()
	defer b.mu.Unlock()
	return slices.Clone(b.tried)
}

// records is how many different records were taken.
func (b *bank) records() int {
	b.mu.Lock()
	defer b.mu.Unlock()
	return len(b.has)
}

// with is how many different records with a word were taken.
func (b *bank) with(word string) (n int) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for l := range b.has {
		if strings.Contains(l, word) {
			n++
		}
	}
	return n
}

func (b *bank) set(answer func([]string) error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.answer = answer
}

func status(code int, header ...string) error {
	h := http.Header{}
	for i := 0; i+1 < len(header); i += 2 {
		h.Set(header[i], header[i+1])
	}
	return &influx.Error{StatusCode: code, Header: h, Message: http.StatusText(code)}
}

var errAway = influx.NewError(errors.New("dial tcp: connection refused"))

// always gives the same answer to everything.
func always(err error) func([]string) error { return func([]string) error { return err } }

// poisoned refuses batches with a record that holds the word.
func poisoned(code int, word string) func([]string) error {
	return func(batch []string) error {
		if strings.Contains(strings.Join(batch, "\n"), word) {
			return status(code)
		}
		return nil
	}
}

func writerTo(b *bank, s *shelf) *Writer {
	o := Options{Log: s, Backlog: 7 * 24 * time.Hour, Memory: s, Places: func(context.Context) (Places, error) {
		return func(n reading.NodeID, _ reading.Instant) Place {
			return Place{Site: "quay", Space: "hall", Heater: "H-" + string(n)}
		}, nil
	}}
	return &Writer{o: o.withDefaults(), server: b, close: func() {}, size: mostRecords, ceiling: mostRecords}
}

// setAside lists the records that the server would not take, oldest first.
func setAside(w *Writer) []Aside {
	w.mu.Lock()
	defer w.mu.Unlock()
	return slices.Clone(w.state.aside)
}
