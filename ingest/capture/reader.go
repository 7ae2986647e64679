package capture

import (
	"bufio"
	"bytes"
	"encoding/base64"
	"errors"
	"fmt"
	"io"

	"heaterd/ingest/scan"
)

// Limits of a line. Common practice, no source: a pack of a week is about
// 10 MB and grows by its quotes when written into a string.
const (
	maxLineBytes = 64 << 20
	maxDepth     = 32
)

// Reader reads a capture file line by line.
type Reader struct {
	in     *bufio.Reader
	number int
	long   []byte // a line longer than the buffer of in
	topics map[string]string
}

// maxTopics bounds the topics kept so that equal ones share their bytes.
const maxTopics = 10_000

// NewReader reads from r, which it buffers.
func NewReader(r io.Reader) *Reader {
	return &Reader{in: bufio.NewReaderSize(r, 256<<10), topics: map[string]string{}}
}

// LineError is a line that cannot be read. Next goes on behind it.
type LineError struct {
	Line int // of the file, from 1
	Err  error
}

func (e *LineError) Error() string {
	return fmt.Sprintf("line %d of the capture: %v; mend or remove the line", e.Line, e.Err)
}

// Unwrap gives what is wrong with the line.
func (e *LineError) Unwrap() error { return e.Err }

// Next gives the next line; io.EOF at the end, a *LineError for a line that
// cannot be read, any other error from the underlying reader. Empty lines are
// passed over. The Line stays valid.
func (r *Reader) Next() (Line, error) {
	for {
		text, err := r.text()
		if err != nil {
			return Line{}, err
		}
		if len(bytes.TrimSpace(text)) == 0 {
			continue
		}
		line, err := r.parse(text)
		if err != nil {
			return Line{}, &LineError{Line: r.number, Err: err}
		}
		return line, nil
	}
}

// text gives the next line of the file, valid until the next call.
func (r *Reader) text() ([]byte, error) {
	r.number++
	part, err := r.in.ReadSlice('\n')
	if !errors.Is(err, bufio.ErrBufferFull) {
		return lastLine(part, err)
	}
	r.long = r.long[:0]
	for errors.Is(err, bufio.ErrBufferFull) {
		if len(r.long) <= maxLineBytes {
			r.long = append(r.long, part...)
		}
		part, err = r.in.ReadSlice('\n')
	}
	if len(r.long)+len(part) > maxLineBytes {
		return nil, &LineError{Line: r.number, Err: fmt.Errorf("longer than %d bytes", maxLineBytes)}
	}
	r.long = append(r.long, part...)
	return lastLine(r.long, err)
}

// lastLine lets a file end without a line feed.
func lastLine(text []byte, err error) ([]byte, error) {
	if errors.Is(err, io.EOF) && len(text) > 0 {
		return text, nil
	}
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("cannot read the capture: %w", err)
	}
	return text, err
}

// draft is a line while its keys are read.
type draft struct {
	line                     Line
	hasAt, hasTopic, hasBody bool
	kinds                    int
}

func (r *Reader) parse(text []byte) (Line, error) {
	var d draft
	s := scan.New(text, maxDepth)
	if err := s.Object(); err != nil {
		return Line{}, err
	}
	for {
		key, more, err := s.Key()
		if err != nil {
			return Line{}, err
		}
		if !more {
			break
		}
		if err := r.field(&d, &s, key); err != nil {
			return Line{}, fmt.Errorf("%s: %w", key, err)
		}
	}
	if err := s.End(); err != nil {
		return Line{}, err
	}
	return d.line, d.check()
}

func (d *draft) check() error {
	switch {
	case !d.hasAt:
		return errors.New("there is no at, the arrival time in RFC 3339")
	case d.kinds == 0:
		return errors.New("there is none of topic, entry, withdraw, planned_stop and answer")
	case d.kinds > 1:
		return errors.New("there are several of topic, entry, withdraw, planned_stop and answer, allowed is one")
	case d.hasTopic != d.hasBody:
		return errors.New("a topic needs one payload or payload_base64, and they a topic")
	}
	return nil
}

func (r *Reader) field(d *draft, s *scan.Scanner, key []byte) (err error) {
	switch string(key) {
	case "at":
		err = d.at(s)
	case "topic":
		d.kinds++
		d.hasTopic = true
		err = r.topic(d, s)
	case "payload", "payload_base64":
		err = d.payload(s, len(key) > len("payload"))
	case "retained":
		d.line.Retained, err = s.Bool()
	case "entry":
		d.line.Entry, err = kind(d, s, parseEntry)
	case "withdraw":
		d.line.Withdraw, err = kind(d, s, parseWithdrawal)
	case "planned_stop":
		d.line.PlannedStop, err = kind(d, s, parseStop)
	case "answer":
		d.line.Answer, err = kind(d, s, parseAnswer)
	default:
		err = s.Skip()
	}
	return err
}

func kind[T any](d *draft, s *scan.Scanner, parse func([]byte) (*T, error)) (*T, error) {
	d.kinds++
	raw, err := s.Raw()
	if err != nil {
		return nil, err
	}
	return parse(raw)
}

func (d *draft) at(s *scan.Scanner) error {
	if d.hasAt {
		return errors.New("found twice")
	}
	d.hasAt = true
	text, err := s.Text()
	if err != nil {
		return err
	}
	if err := d.line.At.UnmarshalText(text); err != nil {
		return fmt.Errorf("found %.40q, write RFC 3339 such as 2026-01-12T06:00:00Z", text)
	}
	return nil
}

func (r *Reader) topic(d *draft, s *scan.Scanner) error {
	text, err := s.Text()
	if err != nil {
		return err
	}
	if len(text) == 0 {
		return errors.New("is empty")
	}
	known, ok := r.topics[string(text)]
	if !ok {
		known = string(text)
		if len(r.topics) < maxTopics {
			r.topics[known] = known
		}
	}
	d.line.Topic = known
	return nil
}

// payload copies: the scanned text is overwritten by the next line.
func (d *draft) payload(s *scan.Scanner, base64Coded bool) error {
	if d.hasBody {
		return errors.New("found a second payload")
	}
	d.hasBody = true
	text, err := s.AppendText([]byte{})
	if err == nil && base64Coded {
		text, err = base64.StdEncoding.AppendDecode(text[:0:0], text)
	}
	d.line.Payload = text
	return err
}
