package capture

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"unicode/utf8"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// Writer writes a capture file line by line, unbuffered: each line goes out
// in one Write, so a recording that is cut off loses at most its last line.
type Writer struct{ out io.Writer }

// NewWriter writes to w.
func NewWriter(w io.Writer) *Writer { return &Writer{out: w} }

// wire is a line as the file has it.
type wire struct {
	At            reading.Instant    `json:"at"`
	Topic         string             `json:"topic,omitempty"`
	Payload       *string            `json:"payload,omitempty"`
	PayloadBase64 []byte             `json:"payload_base64,omitempty"`
	Retained      bool               `json:"retained,omitempty"`
	Entry         *record.Entry      `json:"entry,omitempty"`
	Withdraw      *record.Withdrawal `json:"withdraw,omitempty"`
	PlannedStop   *stop              `json:"planned_stop,omitempty"`
	Answer        *answer            `json:"answer,omitempty"`
}

// Write appends one line. A Line that is of no kind or of several is an
// error, and nothing is written.
func (w *Writer) Write(line Line) error {
	if kinds(line) != 1 {
		return errors.New("cannot write a capture line that has none or several of topic, entry, withdraw, planned_stop and answer")
	}
	text, err := json.Marshal(wireOf(line))
	if err != nil {
		return fmt.Errorf("cannot write a capture line: %w", err)
	}
	if _, err := w.out.Write(append(text, '\n')); err != nil {
		return fmt.Errorf("cannot write to the capture: %w", err)
	}
	return nil
}

func kinds(line Line) int {
	n := 0
	for _, is := range []bool{line.Topic != "", line.Entry != nil, line.Withdraw != nil, line.PlannedStop != nil, line.Answer != nil} {
		if is {
			n++
		}
	}
	return n
}

func wireOf(line Line) wire {
	w := wire{At: line.At, Topic: line.Topic, Retained: line.Retained, Entry: line.Entry, Withdraw: line.Withdraw}
	if line.PlannedStop != nil {
		w.PlannedStop = &stop{PlannedStop: *line.PlannedStop, For: span(line.PlannedStop.For)}
	}
	if line.Answer != nil {
		w.Answer = &answer{Answer: *line.Answer, For: span(line.Answer.For)}
	}
	if line.Topic == "" {
		return w
	}
	if utf8.Valid(line.Payload) {
		text := string(line.Payload)
		w.Payload = &text
	} else {
		w.PayloadBase64 = line.Payload
	}
	return w
}
