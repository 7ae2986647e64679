package fields

import (
	"encoding/json"
	"reflect"
	"testing"

	"heaterd/ingest/scan"
)

// TestPublishedPointers makes the twelve look-ups of RFC 6901 section 5.
func TestPublishedPointers(t *testing.T) {
	const document = `{"foo":["bar","baz"],"":0,"a/b":1,"c%d":2,"e^f":3,"g|h":4,"i\\j":5,"k\"l":6," ":7,"m~n":8}`
	for _, c := range []struct{ pointer, want string }{
		{``, document},
		{`/foo`, `["bar","baz"]`},
		{`/foo/0`, `"bar"`},
		{`/`, `0`},
		{`/a~1b`, `1`},
		{`/c%d`, `2`},
		{`/e^f`, `3`},
		{`/g|h`, `4`},
		{`/i\j`, `5`},
		{`/k"l`, `6`},
		{`/ `, `7`},
		{`/m~0n`, `8`},
	} {
		got := lookUp(t, document, c.pointer)
		t.Logf("pointer %q, RFC 6901 section 5: expected %s, got %s", c.pointer, c.want, got)
		if !reflect.DeepEqual(value(t, got), value(t, []byte(c.want))) {
			t.Errorf("%q: got %s, want %s", c.pointer, got, c.want)
		}
	}
}

func TestPointersToNothing(t *testing.T) {
	const document = `{"foo":["bar","baz"],"n":1}`
	for _, pointer := range []string{`/foo/2`, `/foo/00`, `/foo/-`, `/foo/+1`, `/bar`, `/n/0`, `/foo/0/0`} {
		if got := lookUp(t, document, pointer); got != nil {
			t.Errorf("%q: got %s", pointer, got)
		}
	}
}

// Pointers may lead through each other.
func TestPointersThroughEachOther(t *testing.T) {
	root := &step{}
	for i, p := range []string{"/a", "/a/b", "/a/b/0", ""} {
		if err := root.add(p, i); err != nil {
			t.Fatal(err)
		}
	}
	found := make([][]byte, 4)
	text := scan.New([]byte(`{"a":{"b":[7]}}`), 8)
	if err := root.walk(&text, found); err != nil {
		t.Fatal(err)
	}
	for i, want := range []string{`{"b":[7]}`, `[7]`, `7`, `{"a":{"b":[7]}}`} {
		if string(found[i]) != want {
			t.Errorf("pointer %d: got %s, want %s", i, found[i], want)
		}
	}
}

func lookUp(t *testing.T, document, pointer string) []byte {
	t.Helper()
	root := &step{}
	if err := root.add(pointer, 0); err != nil {
		t.Fatal(err)
	}
	found := make([][]byte, 1)
	text := scan.New([]byte(document), 8)
	if err := root.walk(&text, found); err != nil {
		t.Fatal(err)
	}
	return found[0]
}

func value(t *testing.T, raw []byte) (v any) {
	t.Helper()
	if err := json.Unmarshal(raw, &v); err != nil {
		t.Fatalf("%s: %v", raw, err)
	}
	return v
}
