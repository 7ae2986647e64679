package senml

import (
	"errors"
	"math"
	"reflect"
	"testing"

	"heaterd/ingest/reading"
)

func FuzzDecode(f *testing.F) {
	f.Add([]byte(four), "")
	f.Add([]byte(packFive), "")
	f.Add([]byte(packMobile), "n-07")
	f.Add(toCBOR(f, []byte(four)), "n-07")
	f.Add([]byte(`[{"n":"co","u":"/","v":1e-6,"t":-5},{"n":"temp","u":"K","v":290},{"n":"call","v":1,"ut":60}]`), "")
	f.Add([]byte(`[{"bn":"n/","n":"co","u":"ppm","v":400},{"n":"temp","u":"Cel","v":-127},{"n":"flame","vs":"on"}]`), "")
	f.Add([]byte(`[{"n":"co","u":"/","v":0,"t":1},{"n":"call","v":0}]`), "0")
	f.Fuzz(func(t *testing.T, body []byte, node string) {
		pack, err := Decode(body, Options{Arrived: arrived, Node: reading.NodeID(node)})
		if err != nil {
			var r *reading.Refusal
			if !errors.As(err, &r) || r.Detail == "" || !reflect.DeepEqual(pack, reading.Pack{}) {
				t.Fatalf("got %+v with %v", pack, err)
			}
			return
		}
		sound(t, pack)
		again, err := Decode(encode(pack), Options{Arrived: arrived, Node: pack.Node})
		pack.Ignored, pack.Spoilt = 0, nil // told of the message, not written
		if err != nil || !reflect.DeepEqual(again, pack) {
			t.Fatalf("%s\n got %+v, %v\nwant %+v", encode(pack), again, err, pack)
		}
	})
}

// sound checks what Decode promises of a Pack.
func sound(t *testing.T, pack reading.Pack) {
	t.Helper()
	if len(pack.Samples) == 0 || pack.Within < 0 {
		t.Fatalf("got %+v", pack)
	}
	for i, s := range pack.Samples {
		if i > 0 && s.At <= pack.Samples[i-1].At {
			t.Fatalf("sample %d does not ascend", i)
		}
		ok := s.At >= earliest && s.At < latest && s.Has != 0 && s.On&^s.Has == 0 &&
			in(s.Runtime, 0, 1e9) && in(float64(s.CO), -50, 1_000_000) && in(float64(s.Temp), -60, 150) &&
			in(float64(s.Fuel), 0, 1) && in(float64(s.Battery), 0, 60)
		if !ok {
			t.Fatalf("sample %d is out of range: %+v", i, s)
		}
	}
}

func in(v, low, high float64) bool { return !math.IsNaN(v) && v >= low && v <= high }
