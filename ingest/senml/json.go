package senml

import (
	"bytes"

	"heaterd/ingest/reading"
	"heaterd/ingest/scan"
)

// readJSON feeds the records of a JSON pack to res.
func readJSON(body []byte, res *resolver) error {
	// Every record opens a brace: counting them is far cheaper than reading.
	// Braces in texts and in unknown labels count too; telemetry has neither
	// by the hundred thousand.
	if n := bytes.Count(body, []byte{'{'}); n > maxRecords {
		return reading.Refuse(reading.TooLarge, "found %d records, allowed: %d", n, maxRecords)
	}
	s := scan.New(body, maxDepth)
	if err := s.Array(); err != nil {
		return err
	}
	for {
		more, err := s.Element()
		if err != nil {
			return res.where(err)
		}
		if !more {
			return s.End()
		}
		res.records++
		if err := readRecord(&s, res); err != nil {
			return res.where(err)
		}
	}
}

func readRecord(s *scan.Scanner, res *resolver) error {
	var r record
	if err := s.Object(); err != nil {
		return err
	}
	var seen unknownLabels
	for {
		key, more, err := s.Key()
		if err != nil {
			return err
		}
		if !more {
			return res.add(&r)
		}
		if l := labelOf(key); l != 0 {
			err = readField(s, &r, l, key)
		} else {
			r.unknown = true
			err = readUnknown(s, &seen, key)
		}
		if err != nil {
			return err
		}
	}
}

func readField(s *scan.Scanner, r *record, l label, key []byte) (err error) {
	if r.has&l != 0 {
		return twice(key)
	}
	r.has |= l
	if l == labelV || l == labelVb {
		return readValue(s, r, l)
	}
	if f := r.number(l); f != nil {
		*f, err = s.Number()
		return err
	}
	if b := r.text(l); b != nil {
		*b, err = s.Text()
		return err
	}
	_, err = s.Text() // vs and vd: of no quantity of ours
	return err
}

// readValue reads what was measured. One that cannot be a value spoils its
// record only: a sensor that fails sends null or a text beside values that
// are good.
func readValue(s *scan.Scanner, r *record, l label) (err error) {
	before := *s
	if l == labelVb {
		r.vb, err = s.Bool()
	} else {
		r.v, err = s.Number()
	}
	if err == nil {
		return nil
	}
	*s, r.spoilt = before, err
	return s.Skip()
}

func readUnknown(s *scan.Scanner, seen *unknownLabels, key []byte) error {
	if err := seen.add(key); err != nil {
		return err
	}
	return s.Skip()
}

// unknownLabels are the labels of one record that are no SenML of ours.
type unknownLabels [][]byte

func (u *unknownLabels) add(key []byte) error {
	if err := mustUnderstand(key); err != nil {
		return err
	}
	for _, k := range *u {
		if bytes.Equal(k, key) {
			return twice(key)
		}
	}
	if len(*u) == maxLabels {
		return reading.Refuse(reading.TooLarge, "found more than %d unknown labels in one record", maxLabels)
	}
	*u = append(*u, key)
	return nil
}

// mustUnderstand refuses a label that RFC 8428 section 4.4 forbids to ignore.
func mustUnderstand(key []byte) error {
	if bytes.HasSuffix(key, []byte{'_'}) {
		return reading.Refuse(reading.BadVersion, "found the label %q, which must be understood and is not", key)
	}
	return nil
}

func twice(key []byte) error {
	return reading.Refuse(reading.BadField, "found the label %q twice, allowed: once", key)
}
