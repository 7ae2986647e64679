package capture

import (
	"encoding/json"
	"fmt"
	"time"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// Line is one line of a capture file. Either Topic is set, or exactly one of
// the pointers.
type Line struct {
	At          reading.Instant // when it arrived
	Topic       string
	Payload     []byte
	Retained    bool
	Entry       *record.Entry
	Withdraw    *record.Withdrawal
	PlannedStop *record.PlannedStop
	Answer      *record.Answer
}

// span is a time.Duration written as "2h30m0s".
type span time.Duration

func (s span) MarshalText() ([]byte, error) { return []byte(time.Duration(s).String()), nil }

func (s *span) UnmarshalText(b []byte) error {
	d, err := time.ParseDuration(string(b))
	if err != nil {
		return fmt.Errorf(`for is %q, write a span such as "2h" or "90m"`, b)
	}
	*s = span(d)
	return nil
}

// stop is record.PlannedStop as the file has it.
type stop struct {
	record.PlannedStop
	For span `json:"for,omitzero"` // hides the number
}

func (s *stop) planned() (*record.PlannedStop, error) {
	if s.Heater == "" || s.For <= 0 && !s.End {
		return nil, fmt.Errorf("planned_stop needs a heater, and a span above zero or end")
	}
	s.PlannedStop.For = time.Duration(s.For)
	return &s.PlannedStop, nil
}

// answer is record.Answer as the file has it.
type answer struct {
	record.Answer
	For span `json:"for,omitzero"` // hides the number
}

func (a *answer) given() (*record.Answer, error) {
	if a.Act == "" {
		return nil, fmt.Errorf("answer needs an act")
	}
	a.Answer.For = time.Duration(a.For)
	return &a.Answer, nil
}

func parseEntry(raw []byte) (*record.Entry, error) {
	var e record.Entry
	if err := json.Unmarshal(raw, &e); err != nil {
		return nil, err
	}
	if e.Heater == "" || e.Task == "" {
		return nil, fmt.Errorf("entry needs a heater and a task")
	}
	if h := e.MeterH; h != nil && !(*h >= 0 && *h <= record.MostMeterH) {
		return nil, fmt.Errorf("meter_h is %g; allowed: 0 to %d, h", *h, record.MostMeterH)
	}
	return &e, nil
}

func parseWithdrawal(raw []byte) (*record.Withdrawal, error) {
	var w record.Withdrawal
	if err := json.Unmarshal(raw, &w); err != nil {
		return nil, err
	}
	if w.Heater == "" || w.Task == "" || w.At == 0 || w.Why == "" {
		return nil, fmt.Errorf("withdraw needs the heater, the task and the at of the entry, and why")
	}
	return &w, nil
}

func parseStop(raw []byte) (*record.PlannedStop, error) {
	var s stop
	if err := json.Unmarshal(raw, &s); err != nil {
		return nil, err
	}
	return s.planned()
}

func parseAnswer(raw []byte) (*record.Answer, error) {
	var a answer
	if err := json.Unmarshal(raw, &a); err != nil {
		return nil, err
	}
	return a.given()
}
