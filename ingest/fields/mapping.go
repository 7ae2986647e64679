package fields

import (
	"errors"
	"fmt"
	"math"
	"time"

	"heaterd/ingest/quantity"
)

// Mapping says where in a node's JSON its readings are. Compile it once
// before decoding; after that it is only read and may be shared.
type Mapping struct {
	Fields []Field
	Time   Time
	Within time.Duration // longest time to the next message the node promises; 0: it does not

	specs []*quantity.Spec
	root  *step
}

// Field is one quantity: kept = value × Scale + Offset, in Unit.
type Field struct {
	Quantity string  // as in SenML: flame, runtime, co, temp, supply, call, fuel, battery
	Pointer  string  // RFC 6901
	Unit     string  // as in SenML, secondary units included; empty where the quantity has one only
	Scale    float64 // 0 means 1
	Offset   float64 // in Unit
}

// Time is where the time of measurement is; no pointer means the time of
// arrival.
type Time struct {
	Pointer string
	Unit    string // "s" or "ms" since 1970, or "rfc3339" with an offset
}

// The units of Time.
const (
	Seconds      = "s"
	Milliseconds = "ms"
	RFC3339      = "rfc3339"
)

// Compile checks the mapping and prepares it. The error names every field
// that is wrong.
func (m *Mapping) Compile() error {
	m.root, m.specs = &step{}, nil
	var wrong []error
	if len(m.Fields) == 0 {
		wrong = append(wrong, errors.New("a mapping needs at least one field"))
	}
	seen := map[string]bool{}
	for i, f := range m.Fields {
		err := m.add(i, f)
		if err == nil && seen[f.Quantity] {
			err = errors.New("mapped twice")
		}
		if err != nil {
			wrong = append(wrong, fmt.Errorf("field %d (%s): %w", i+1, f.Quantity, err))
		}
		seen[f.Quantity] = true
	}
	if err := m.addTime(); err != nil {
		wrong = append(wrong, fmt.Errorf("time: %w", err))
	}
	if m.Within < 0 {
		wrong = append(wrong, fmt.Errorf("within is %s, allowed: 0 or more", m.Within))
	}
	return errors.Join(wrong...)
}

func (m *Mapping) add(i int, f Field) error {
	spec := quantity.Named(f.Quantity)
	if spec == nil {
		return fmt.Errorf("no quantity of this name, allowed: %v", quantity.Names())
	}
	m.specs = append(m.specs, spec)
	if spec.Bool && (f.Unit != "" || f.Scale != 0 || f.Offset != 0) {
		return errors.New("true or false has no unit, scale or offset")
	}
	if math.IsNaN(f.Scale+f.Offset) || math.IsInf(f.Scale+f.Offset, 0) {
		return errors.New("scale and offset must be finite")
	}
	if !spec.Bool {
		if err := spec.CheckUnit(f.Unit); err != nil {
			return err
		}
	}
	return m.root.add(f.Pointer, i)
}

func (m *Mapping) addTime() error {
	if m.Time.Pointer == "" && m.Time.Unit == "" {
		return nil
	}
	if m.Time.Pointer == "" {
		return errors.New("a unit needs a pointer")
	}
	switch m.Time.Unit {
	case Seconds, Milliseconds, RFC3339:
		return m.root.add(m.Time.Pointer, m.timeIndex())
	}
	return fmt.Errorf("unit is %q, allowed: %s, %s, %s", m.Time.Unit, Seconds, Milliseconds, RFC3339)
}

// timeIndex is the place of the time behind the fields.
func (m *Mapping) timeIndex() int { return len(m.Fields) }
