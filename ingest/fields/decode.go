package fields

import (
	"cmp"
	"errors"
	"math"
	"time"

	"heaterd/ingest/quantity"
	"heaterd/ingest/reading"
	"heaterd/ingest/scan"
)

// Limits of a message. Common practice, no source: one message is one moment
// and fits in kilobytes.
const (
	maxBytes = 1 << 20
	maxDepth = 32
)

// The instants a reading can be of. Common practice, no source: a node whose
// clock was never set starts at 1970 or later, and its readings can be placed
// by their arrival; one that failed may stand at the end of a counter of 32
// bits (2106-02-07).
var (
	earliest = reading.InstantOf(time.Unix(1, 0))
	latest   = reading.InstantOf(time.Unix(1<<32, 0))
)

// Options are what a message does not say itself.
type Options struct {
	Arrived reading.Instant // the time of measurement where the mapping has none
	Node    reading.NodeID  // the node the topic told
}

// Decode reads one message with a compiled mapping. Every error is a
// *reading.Refusal and comes with a zero Pack; a Pack has exactly one sample,
// every value finite and in range.
func (m *Mapping) Decode(body []byte, opt Options) (reading.Pack, error) {
	found, err := m.find(body)
	if err != nil {
		return reading.Pack{}, err
	}
	at, err := m.instant(found[m.timeIndex()], opt.Arrived)
	if err != nil {
		return reading.Pack{}, within(err, m.Time.Pointer)
	}
	s := reading.Sample{At: at}
	var spoilt error // the first value that cannot be taken does not take the others with it
	for i, raw := range found[:m.timeIndex()] {
		one, err := m.sample(i, raw)
		if err != nil {
			spoilt = cmp.Or(spoilt, within(err, m.Fields[i].Pointer))
			continue
		}
		one.At = at
		s = s.Merge(one)
	}
	if s.Has == 0 && spoilt != nil {
		return reading.Pack{}, spoilt
	}
	if s.Has == 0 {
		return reading.Pack{}, reading.Refuse(reading.NothingIn, "found none of the %d fields of the mapping", len(m.Fields))
	}
	why, _ := errors.AsType[*reading.Refusal](spoilt)
	return reading.Pack{Node: opt.Node, Samples: []reading.Sample{s}, Within: m.Within, Spoilt: why}, nil
}

// find gives the text at every pointer, nil where there is none.
func (m *Mapping) find(body []byte) ([][]byte, error) {
	if len(body) > maxBytes {
		return nil, reading.Refuse(reading.TooLarge, "found %d bytes, allowed: %d", len(body), maxBytes)
	}
	found := make([][]byte, len(m.Fields)+1)
	text := scan.New(body, maxDepth)
	if err := m.root.walk(&text, found); err != nil {
		return nil, err
	}
	return found, text.End()
}

func (m *Mapping) sample(i int, raw []byte) (reading.Sample, error) {
	if raw == nil || string(raw) == "null" {
		return reading.Sample{}, nil
	}
	spec, f := m.specs[i], m.Fields[i]
	if spec.Bool {
		return onOff(spec, raw)
	}
	text := scan.New(raw, 0)
	v, err := text.Number()
	if err != nil {
		return reading.Sample{}, atPointer(err)
	}
	if f.Scale != 0 {
		v *= f.Scale
	}
	return spec.Number(v+f.Offset, f.Unit, true)
}

// onOff reads true, false, 1, 0, "on" and "off".
func onOff(spec *quantity.Spec, raw []byte) (reading.Sample, error) {
	switch string(raw) {
	case "true", "1", `"on"`:
		return spec.Switch(true)
	case "false", "0", `"off"`:
		return spec.Switch(false)
	}
	return reading.Sample{}, reading.Refuse(reading.BadField, `found %s for %s, allowed: true, false, 1, 0, "on", "off"`, short(raw), spec.Name)
}

func (m *Mapping) instant(raw []byte, arrived reading.Instant) (reading.Instant, error) {
	if raw == nil {
		if m.Time.Unit != "" {
			return 0, reading.Refuse(reading.BadTime, "found no time, allowed: one in %s", m.Time.Unit)
		}
		return arrived, nil
	}
	at, err := m.parseTime(raw)
	if err != nil {
		return 0, err
	}
	if at < earliest || at >= latest {
		return 0, reading.Refuse(reading.BadTime, "found %s, allowed: from %s, before %s", short(raw), earliest, latest)
	}
	return at, nil
}

func (m *Mapping) parseTime(raw []byte) (reading.Instant, error) {
	text := scan.New(raw, 0)
	if m.Time.Unit == RFC3339 {
		return parseRFC3339(&text)
	}
	v, err := text.Number()
	if err != nil {
		return 0, atPointer(err)
	}
	if m.Time.Unit == Milliseconds {
		v /= 1e3
	}
	if !(math.Abs(v) < 1e11) { // keeps the microseconds inside 64 bits
		return 0, reading.Refuse(reading.BadTime, "found %s, allowed: seconds or milliseconds since 1970", short(raw))
	}
	return reading.InstantOfSeconds(v), nil
}

func parseRFC3339(text *scan.Scanner) (reading.Instant, error) {
	b, err := text.Text()
	if err != nil {
		return 0, atPointer(err)
	}
	var at reading.Instant
	if err := at.UnmarshalText(b); err != nil {
		return 0, reading.Refuse(reading.BadTime, "found %q, allowed: RFC 3339 with an offset", short(b))
	}
	return at, nil
}

// within says at which pointer err happened.
func within(err error, pointer string) error {
	if r, ok := errors.AsType[*reading.Refusal](err); ok {
		return &reading.Refusal{Reason: r.Reason, Where: pointer, Detail: r.Detail}
	}
	return err
}

// atPointer drops the byte a value's own scanner counted: the pointer tells.
func atPointer(err error) error { return within(err, "") }

// short keeps a message from carrying a whole document.
func short(raw []byte) []byte {
	const enough = 40
	if len(raw) > enough {
		return append(raw[:enough:enough], "…"...)
	}
	return raw
}
