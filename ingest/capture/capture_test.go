package capture_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"reflect"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"pgregory.net/rapid"

	"heaterd/ingest/capture"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

func at(t testing.TB, s string) reading.Instant {
	t.Helper()
	var i reading.Instant
	if err := i.UnmarshalText([]byte(s)); err != nil {
		t.Fatal(err)
	}
	return i
}

func all(r io.Reader) (lines []capture.Line, errs []error) {
	in := capture.NewReader(r)
	for {
		line, err := in.Next()
		var bad *capture.LineError
		switch {
		case errors.Is(err, io.EOF):
			return lines, errs
		case errors.As(err, &bad):
			errs = append(errs, err)
		case err != nil:
			return lines, append(errs, err)
		default:
			lines = append(lines, line)
		}
	}
}

func TestReader(t *testing.T) {
	const file = `{"at":"2026-01-12T06:00:00Z","topic":"sites/quay/nodes/n-07/telemetry","payload":"[{\"n\":\"co\"}]"}

{"at":"2026-01-12T07:00:01.5+01:00","topic":"a","payload_base64":"/wA=","retained":true,"later":{"x":[1]}}
{"at":"2026-01-12T05:00:00Z","entry":{"heater":"H-07","task":"refuel","by":"A","note":"n","meter_h":412.5,"new":1}}
{"planned_stop":{"heater":"H-07","for":"2h"},"at":"2026-01-12T06:00:00Z"}
{"at":"2026-01-12T06:00:00Z","answer":{"act":"shelve","alarm":"a1","by":"A","for":"90m"}}
{"at":"2026-01-12T06:00:00Z","topic":"a","payload":""}`
	meter := 412.5
	six := at(t, "2026-01-12T06:00:00Z")
	want := []capture.Line{
		{At: six, Topic: "sites/quay/nodes/n-07/telemetry", Payload: []byte(`[{"n":"co"}]`)},
		{At: six.AddSeconds(1.5), Topic: "a", Payload: []byte{0xff, 0}, Retained: true},
		{At: six.AddSeconds(-3600), Entry: &record.Entry{Heater: "H-07", Task: "refuel", By: "A", Note: "n", MeterH: &meter}},
		{At: six, PlannedStop: &record.PlannedStop{Heater: "H-07", For: 2 * time.Hour}},
		{At: six, Answer: &record.Answer{Act: record.Shelve, Alarm: "a1", By: "A", For: 90 * time.Minute}},
		{At: six, Topic: "a", Payload: []byte{}},
	}
	got, errs := all(iotest.OneByteReader(strings.NewReader(file)))
	if errs != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("\n got %+v, %v\nwant %+v", got, errs, want)
	}
}

func TestReaderNamesTheLine(t *testing.T) {
	const good = `{"at":"2026-01-12T06:00:00Z","topic":"a","payload":"1"}`
	for _, c := range []struct{ line, want string }{
		{`{"at":"2026-01-12T06:00:00Z","topic":"a"`, "syntax at byte 41"},
		{`[]`, "expected an object"},
		{`{}`, "there is no at"},
		{`{"at":"2026-01-12T06:00:00Z"}`, "none of topic, entry, withdraw, planned_stop and answer"},
		{`{"at":"2026-01-12T06:00:00Z","topic":"a"}`, "a topic needs one payload"},
		{`{"at":"2026-01-12T06:00:00Z","payload":"a"}`, "none of"},
		{`{"at":"2026-01-12T06:00:00Z","topic":"a","payload":"","payload_base64":""}`, "a second payload"},
		{`{"at":"2026-01-12T06:00:00Z","topic":"a","topic":"b","payload":""}`, "several of"},
		{`{"at":"2026-01-12T06:00:00Z","topic":"","payload":""}`, "topic: is empty"},
		{`{"at":"2026-01-12T06:00:00Z","topic":"a","payload":1}`, "payload: field at byte 51: found a number"},
		{`{"at":"2026-01-12T06:00:00Z","topic":"a","payload_base64":"?"}`, "illegal base64"},
		{`{"at":"2026-01-12 06:00","topic":"a","payload":""}`, "write RFC 3339"},
		{`{"at":"2026-01-12T06:00:00Z","entry":{"heater":"H-07"}}`, "entry needs a heater and a task"},
		{`{"at":"2026-01-12T06:00:00Z","withdraw":{"heater":"H-07","task":"refuel","at":"2026-01-12T05:00:00Z"}}`, "the at of the entry, and why"},
		{`{"at":"2026-01-12T06:00:00Z","planned_stop":{"heater":"H-07"}}`, "a span above zero"},
		{`{"at":"2026-01-12T06:00:00Z","planned_stop":{"heater":"H-07","for":"soon"}}`, `write a span such as "2h"`},
		{`{"at":"2026-01-12T06:00:00Z","planned_stop":{"heater":"H-07","for":7200}}`, "planned_stop"},
		{`{"at":"2026-01-12T06:00:00Z","answer":{"by":"A"}}`, "answer needs an act"},
		{good + good, "expected the end"},
	} {
		lines, errs := all(strings.NewReader(good + "\n" + c.line + "\n" + good + "\n"))
		if len(errs) != 1 || len(lines) != 2 {
			t.Errorf("%s: got %d lines, errors %v", c.line, len(lines), errs)
			continue
		}
		msg := errs[0].Error()
		if !strings.HasPrefix(msg, "line 2 of the capture: ") || !strings.Contains(msg, c.want) {
			t.Errorf("%s: got %s, want %s", c.line, msg, c.want)
		}
	}
}

func TestReaderLongLines(t *testing.T) {
	payload := strings.Repeat("x", 5<<20)
	file := `{"at":"2026-01-12T06:00:00Z","topic":"a","payload":"` + payload + `"}` + "\n" +
		strings.Repeat(" ", 65<<20) + "\n" +
		`{"at":"2026-01-12T06:00:00Z","topic":"a","payload":"1"}`
	lines, errs := all(strings.NewReader(file))
	if len(lines) != 2 || string(lines[0].Payload) != payload {
		t.Errorf("got %d lines", len(lines))
	}
	if len(errs) != 1 || !strings.HasPrefix(errs[0].Error(), "line 2 of the capture: longer than") {
		t.Errorf("got %v", errs)
	}
}

func TestReaderPassesOnFaults(t *testing.T) {
	fault := errors.New("disk gone")
	_, errs := all(io.MultiReader(strings.NewReader(`{"at":`), iotest.ErrReader(fault)))
	if len(errs) != 1 || !errors.Is(errs[0], fault) {
		t.Errorf("got %v", errs)
	}
}

func TestWriterRefusesWhatIsNoLine(t *testing.T) {
	var out bytes.Buffer
	w := capture.NewWriter(&out)
	for _, line := range []capture.Line{{}, {Topic: "a", Entry: &record.Entry{}}} {
		if err := w.Write(line); err == nil || out.Len() > 0 {
			t.Errorf("%+v was written", line)
		}
	}
}

// lines draws lines as a recorder or a person makes them.
func lines() *rapid.Generator[capture.Line] {
	word := rapid.StringN(1, 12, 40)
	return rapid.Custom(func(t *rapid.T) capture.Line {
		l := capture.Line{At: reading.Instant(rapid.Int64Range(0, 4_000_000_000_000_000).Draw(t, "at"))}
		span := time.Duration(rapid.Int64Range(1, 1e15).Draw(t, "for"))
		switch rapid.IntRange(0, 4).Draw(t, "kind") {
		case 0:
			l.Topic, l.Payload = word.Draw(t, "topic"), rapid.SliceOf(rapid.Byte()).Draw(t, "payload")
			l.Retained = rapid.Bool().Draw(t, "retained")
			if rapid.Bool().Draw(t, "text") {
				l.Payload = []byte(rapid.String().Draw(t, "payload text"))
			}
		case 1:
			litres := rapid.Float64Range(0, 1000).Draw(t, "litres")
			l.Entry = &record.Entry{Heater: word.Draw(t, "heater"), Task: word.Draw(t, "task"), Note: rapid.String().Draw(t, "note"), Litres: &litres}
		case 2:
			l.PlannedStop = &record.PlannedStop{Heater: word.Draw(t, "heater"), For: span, By: word.Draw(t, "by"),
				From: rapid.SampledFrom([]reading.Instant{0, 1_768_197_600_000_000}).Draw(t, "from"), End: rapid.Bool().Draw(t, "end")}
		case 4:
			l.Withdraw = &record.Withdrawal{Heater: word.Draw(t, "heater"), Task: word.Draw(t, "task"), At: l.At + 1, By: word.Draw(t, "by"), Why: word.Draw(t, "why")}
		case 3:
			l.Answer = &record.Answer{Act: record.Shelve, Alarm: word.Draw(t, "alarm"), By: word.Draw(t, "by"), For: span}
		}
		return l
	})
}

func TestReaderReadsWhatWriterWrites(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := rapid.SliceOf(lines()).Draw(t, "lines")
		var file bytes.Buffer
		w := capture.NewWriter(&file)
		for _, line := range want {
			if err := w.Write(line); err != nil {
				t.Fatal(err)
			}
		}
		text := file.String()
		got, errs := all(&file)
		if errs != nil || len(got) != len(want) || len(want) > 0 && !reflect.DeepEqual(got, want) {
			t.Fatalf("%s\n got %+v, %v\nwant %+v", text, got, errs, want)
		}
	})
}

func FuzzReader(f *testing.F) {
	f.Add([]byte(`{"at":"2026-01-12T06:00:00Z","topic":"a","payload":"1"}`))
	f.Add([]byte(`{"at":"2026-01-12T06:00:00Z","planned_stop":{"heater":"H-07","for":"2h"}}`))
	f.Add([]byte(`{"at":"2026-01-12T06:00:00Z","answer":{"act":"reset","by":"A"}}` + "\n\n{"))
	f.Add([]byte(`{"at":"2026-01-12T06:00:00Z","entry":{"heater":"H-07","task":"refuel"}}`))
	f.Add([]byte(`{"at":"2026-01-12T06:10:00Z","withdraw":{"heater":"H-07","task":"refuel","at":"2026-01-12T06:00:00Z","why":"no"}}`))
	f.Fuzz(func(t *testing.T, file []byte) {
		got, _ := all(bytes.NewReader(file))
		var out bytes.Buffer
		w := capture.NewWriter(&out)
		for _, line := range got {
			if !writable(line.At) || line.Withdraw != nil && !writable(line.Withdraw.At) {
				return // RFC 3339 cannot write these
			}
			if err := w.Write(line); err != nil {
				t.Fatalf("%+v: %v", line, err)
			}
		}
		again, errs := all(&out)
		if errs != nil || !reflect.DeepEqual(again, got) {
			t.Fatalf("got %+v, %v\nwant %+v", again, errs, got)
		}
	})
}

func writable(i reading.Instant) bool {
	y := i.Time().Year()
	return y >= 0 && y <= 9999
}

const typical = `{"at":"2026-01-12T06:00:00Z","topic":"sites/quay/nodes/n-07/telemetry","payload":"[{\"bn\":\"n-07/\",\"bt\":1768197590,\"n\":\"flame\",\"vb\":true},{\"n\":\"runtime\",\"u\":\"s\",\"v\":1485000},{\"n\":\"co\",\"u\":\"ppm\",\"v\":3.5},{\"n\":\"temp\",\"u\":\"Cel\",\"v\":14.2}]"}` + "\n"

func BenchmarkReader(b *testing.B) {
	b.Run("reader", func(b *testing.B) {
		b.SetBytes(int64(len(typical)))
		b.ReportAllocs()
		r := capture.NewReader(endless(typical))
		for b.Loop() {
			if _, err := r.Next(); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("bare encoding json", func(b *testing.B) {
		b.SetBytes(int64(len(typical)))
		b.ReportAllocs()
		for b.Loop() {
			var l struct{ At, Topic, Payload string }
			if err := json.Unmarshal([]byte(typical), &l); err != nil {
				b.Fatal(err)
			}
		}
	})
}

// endless gives the same line over and over.
func endless(line string) io.Reader {
	block := strings.Repeat(line, 1000)
	return &loop{block: block, in: strings.NewReader(block)}
}

type loop struct {
	block string
	in    *strings.Reader
}

func (l *loop) Read(p []byte) (int, error) {
	if l.in.Len() == 0 {
		l.in.Reset(l.block)
	}
	return l.in.Read(p)
}

func BenchmarkWriter(b *testing.B) {
	line, err := capture.NewReader(strings.NewReader(typical)).Next()
	if err != nil {
		b.Fatal(err)
	}
	w := capture.NewWriter(io.Discard)
	b.ReportAllocs()
	for b.Loop() {
		if err := w.Write(line); err != nil {
			b.Fatal(err)
		}
	}
}

func ExampleReader() {
	r := capture.NewReader(strings.NewReader(typical + "{}\n"))
	line, err := r.Next()
	fmt.Println(line.At, line.Topic, err)
	_, err = r.Next()
	fmt.Println(err)
	// Output:
	// 2026-01-12T06:00:00Z sites/quay/nodes/n-07/telemetry <nil>
	// line 2 of the capture: there is no at, the arrival time in RFC 3339; mend or remove the line
}
