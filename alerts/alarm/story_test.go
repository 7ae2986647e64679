package alarm

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

const zero = reading.Instant(1_768_197_600_000_000) // 2026-01-12T06:00:00Z

func at(d time.Duration) reading.Instant { return zero.Add(d) }

// story drives a book and writes down each transition as one line.
type story struct {
	*testing.T
	b     *Book
	lines []string
}

func tell(t *testing.T) *story { return &story{T: t, b: NewBook(Rules())} }

func (s *story) note(ts []Transition) {
	for _, tr := range ts {
		s.lines = append(s.lines, fmt.Sprintf("%s %s %s>%s", tr.At.Sub(zero), tr.Alarm.ID, tr.From, tr.To))
	}
}

func (s *story) see(d time.Duration, c Condition) { s.note(s.b.Observe(at(d), c)) }

func (s *story) tick(d time.Duration) { s.note(s.b.Tick(at(d))) }

func (s *story) do(d time.Duration, a record.Answer) error {
	ts, err := s.b.Answer(at(d), a)
	s.note(ts)
	return err
}

func (s *story) must(d time.Duration, a record.Answer) {
	s.Helper()
	if err := s.do(d, a); err != nil {
		s.Fatal(err)
	}
}

func (s *story) want(lines ...string) {
	s.Helper()
	if d := cmp.Diff(lines, s.lines); d != "" {
		s.Errorf("transitions (-want +got):\n%s", d)
	}
}

func stop(active bool) Condition {
	return Condition{Key: Key{Kind: ShutdownUnexplained, Site: "quay", Space: "hall", Heater: "H-07"}, Active: active, Known: true}
}

func ceiling(ppm float64) Condition {
	return Condition{
		Key: Key{Kind: COCeiling, Site: "quay", Space: "hall"}, Active: ppm >= 200, Known: true,
		Value: ppm, Limit: 200, HasValue: true, Unit: "ppm",
	}
}

func cold(c float64) Condition {
	return Condition{
		Key: Key{Kind: SpaceCold, Site: "quay", Space: "hall"}, Active: c < 5, Known: true,
		Value: c, Limit: 5, HasValue: true, Unit: "Cel",
	}
}

func ack(id string) record.Answer {
	return record.Answer{Act: record.Acknowledge, Alarm: id, By: "A. Reader", Role: Technician}
}

func refused(t *testing.T, err error, f Fault, advice string) {
	t.Helper()
	var r *Refusal
	if !errors.As(err, &r) || r.Fault != f || !strings.Contains(r.Advice, advice) {
		t.Errorf("got %v, want a %s that says %q", err, f, advice)
	}
}

// again takes a book through JSON.
func again(t interface{ Fatal(...any) }, b *Book) *Book {
	raw, err := json.Marshal(b.All())
	if err != nil {
		t.Fatal(err)
	}
	var all []Alarm
	if err := json.Unmarshal(raw, &all); err != nil {
		t.Fatal(err)
	}
	fresh := NewBook(Rules())
	fresh.Restore(all)
	return fresh
}
