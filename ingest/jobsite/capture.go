package jobsite

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"unicode/utf8"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// CaptureLine is one line of a capture file: a message as it arrived, or
// what a person wrote down.
type CaptureLine struct {
	At       reading.Instant
	Topic    string
	Payload  []byte
	Retained bool
	Entry    *record.Entry
	Stop     *record.PlannedStop
}

type captureJSON struct {
	At      reading.Instant `json:"at"`
	Topic   string          `json:"topic,omitempty"`
	Payload *string         `json:"payload,omitempty"`
	Base64  []byte          `json:"payload_base64,omitempty"`
	Kept    bool            `json:"retained,omitempty"`
	Entry   *record.Entry   `json:"entry,omitempty"`
	Stop    *stopJSON       `json:"planned_stop,omitempty"`
}

type stopJSON struct {
	Heater string `json:"heater"`
	For    string `json:"for"`
	By     string `json:"by,omitempty"`
	Note   string `json:"note,omitempty"`
}

// MarshalJSON writes the line as the capture format has it.
func (l CaptureLine) MarshalJSON() ([]byte, error) {
	c := captureJSON{At: l.At, Topic: l.Topic, Kept: l.Retained, Entry: l.Entry}
	switch {
	case l.Topic == "":
	case utf8.Valid(l.Payload):
		text := string(l.Payload)
		c.Payload = &text
	default:
		c.Base64 = l.Payload
	}
	if s := l.Stop; s != nil {
		c.Stop = &stopJSON{Heater: s.Heater, For: s.For.String(), By: s.By, Note: s.Note}
	}
	return json.Marshal(c)
}

// WriteCapture writes the lines as JSON Lines.
func WriteCapture(w io.Writer, lines []CaptureLine) error {
	b := bufio.NewWriter(w)
	e := json.NewEncoder(b)
	for i := range lines {
		if err := e.Encode(lines[i]); err != nil {
			return fmt.Errorf("cannot write capture line %d: %w", i+1, err)
		}
	}
	if err := b.Flush(); err != nil {
		return fmt.Errorf("cannot write capture: %w", err)
	}
	return nil
}
