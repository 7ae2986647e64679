package scan

import (
	"strconv"

	"heaterd/ingest/reading"
)

// Number reads a number as the nearest float64.
func (s *Scanner) Number() (float64, error) {
	if kindOf(s.Peek()) != "a number" {
		return 0, s.wrongKind("a number")
	}
	start := s.at
	d, err := s.number()
	if err != nil {
		return 0, err
	}
	if f, ok := d.exact(); ok {
		return f, nil
	}
	f, err := strconv.ParseFloat(string(s.text[start:s.at]), 64)
	if err != nil {
		return 0, s.refuse(reading.BadRange, "found a number over 1.8e308")
	}
	return f, nil
}

// decimal is a number as written: digits × 10^exponent.
type decimal struct {
	digits   uint64
	exponent int
	negative bool
	long     bool // more digits than fit: digits is not the number
}

// number passes over a number and takes its digits.
func (s *Scanner) number() (decimal, error) {
	var d decimal
	if d.negative = s.Peek() == '-'; d.negative {
		s.at++
	}
	if s.at < len(s.text) && s.text[s.at] == '0' {
		s.at++ // RFC 8259: no digit may follow a leading zero
	} else if n := s.digits(&d); n == 0 {
		return d, s.unexpected("a value")
	}
	if err := s.fraction(&d); err != nil {
		return d, err
	}
	return d, s.exponent(&d)
}

func (s *Scanner) fraction(d *decimal) error {
	if s.at >= len(s.text) || s.text[s.at] != '.' {
		return nil
	}
	s.at++
	n := s.digits(d)
	if n == 0 {
		return s.unexpected("a digit after the point")
	}
	d.exponent -= n
	return nil
}

func (s *Scanner) exponent(d *decimal) error {
	if s.at >= len(s.text) || s.text[s.at]|0x20 != 'e' {
		return nil
	}
	s.at++
	sign := 1
	if s.at < len(s.text) && (s.text[s.at] == '+' || s.text[s.at] == '-') {
		if s.text[s.at] == '-' {
			sign = -1
		}
		s.at++
	}
	var e decimal
	if s.digits(&e) == 0 {
		return s.unexpected("a digit in the exponent")
	}
	if e.long || e.digits > 1e6 {
		d.long = true
		return nil
	}
	d.exponent += sign * int(e.digits)
	return nil
}

// digits passes over digits, appends them to d and tells how many.
func (s *Scanner) digits(d *decimal) int {
	start := s.at
	for s.at < len(s.text) {
		c := s.text[s.at] - '0'
		if c > 9 {
			break
		}
		if d.digits >= 1e17 {
			d.long = true
		} else {
			d.digits = d.digits*10 + uint64(c)
		}
		s.at++
	}
	return s.at - start
}

// powers holds the powers of ten that float64 holds exactly.
var powers = [...]float64{
	1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
}

// exact gives the number where one rounding is enough: digits and power of
// ten are both exact in float64, so their product or quotient is rounded
// once (a well-known property of IEEE 754 arithmetic).
func (d decimal) exact() (float64, bool) {
	if d.long || d.digits >= 1<<53 || d.exponent >= len(powers) || -d.exponent >= len(powers) {
		return 0, false
	}
	f := float64(d.digits)
	if d.exponent < 0 {
		f /= powers[-d.exponent]
	} else {
		f *= powers[d.exponent]
	}
	if d.negative {
		f = -f
	}
	return f, true
}
