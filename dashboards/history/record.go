package history

import (
	"math"
	"strconv"
	"strings"
	"time"
	"unicode"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// measurement is the name of every record.
const measurement = "reading"

// entry is one record in line protocol and the line of the log it is from, 0
// for one out of an hour.
type entry struct {
	line int64
	text string
}

// entries gives a line's records; none for a line that holds no fresh pack.
func entries(l record.Line, places Places) []entry {
	if l.Pack == nil || l.Retained {
		return nil
	}
	list, head := make([]entry, 0, len(l.Pack.Samples)), places.heads(l.Pack.Node)
	for _, s := range l.Pack.Samples {
		if text := recordOf(head(s.At), s); text != "" {
			list = append(list, entry{l.ID, text})
		}
	}
	return list
}

// recordOf gives a sample's record, "" where it holds nothing to write.
func recordOf(head string, s reading.Sample) string {
	fields := fieldsOf(s)
	if fields == "" {
		return ""
	}
	return head + " " + fields + " " + strconv.FormatInt(s.At.Time().UnixMilli(), 10)
}

// tag writes a tag, escaping what separates in line protocol. A line feed would
// end the record and a backslash at the end would swallow the next separator;
// servers differ on other control characters. None of them gets through.
func tag(b *strings.Builder, name, value string) {
	if value == "" {
		return
	}
	b.WriteString("," + name + "=")
	for _, r := range value {
		switch {
		case unicode.IsControl(r), r == unicode.ReplacementChar:
			b.WriteByte('_')
		case r == '\\':
			b.WriteByte('/')
		case r == ',', r == '=', r == ' ':
			b.WriteByte('\\')
			fallthrough
		default:
			b.WriteRune(r)
		}
	}
}

// fields holds the names of a record's fields and what type each has.
type fields struct{ b strings.Builder }

func fieldsOf(s reading.Sample) string {
	var f fields
	f.float("battery_ratio", s.Carries(reading.BatteryLevel), float64(s.Battery), 32)
	f.float("battery_v", s.Carries(reading.BatteryVolts), float64(s.Battery), 32)
	f.boolean("call", s, reading.Call)
	f.float("co_ppm", s.Carries(reading.CO), float64(s.CO), 32)
	f.boolean("flame", s, reading.Flame)
	f.float("fuel_ratio", s.Carries(reading.Fuel), float64(s.Fuel), 32)
	f.float("runtime_s", s.Carries(reading.Runtime), s.Runtime, 64)
	f.boolean("supply", s, reading.Supply)
	f.float("temp_celsius", s.Carries(reading.Temp), float64(s.Temp), 32)
	return f.b.String()
}

func (f *fields) add(name, value string) {
	if f.b.Len() > 0 {
		f.b.WriteByte(',')
	}
	f.b.WriteString(name + "=" + value)
}

// float writes a number, with as many digits as its type holds. What is not a
// number has no place in line protocol.
func (f *fields) float(name string, sent bool, v float64, bits int) {
	if sent && !math.IsNaN(v) && !math.IsInf(v, 0) {
		f.add(name, strconv.FormatFloat(v, 'f', -1, bits))
	}
}

func (f *fields) boolean(name string, s reading.Sample, q reading.Quantity) {
	if s.Carries(q) {
		f.add(name, strconv.FormatBool(s.On&q != 0))
	}
}

// precision is the unit of every record's time.
const precision = time.Millisecond
