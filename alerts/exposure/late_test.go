package exposure

import (
	"math"
	"testing"
	"time"
)

// A node may send its flame every few seconds and CO once a minute.
func TestCOSentLessOftenThanTheRestIsNoGap(t *testing.T) {
	s := NewSensor(Heavy)
	for x := 0.0; x <= 2*3600; x += 60 {
		s.Apply(epoch.AddSeconds(x), 20+x/600, 10*time.Second)
	}
	f := s.At(s.Last)
	if want := 26.0 * 2 / 8; f.Coverage != 1 || math.Abs(f.TWA8hPPM-want) > 0.001*want {
		t.Errorf("coverage %v, 8 h %v, want %v", f.Coverage, f.TWA8hPPM, want)
	}
}

func TestLateReadingsCountForThePeakOnly(t *testing.T) {
	s := NewSensor(Heavy)
	feed(&s, 3600, 30, steady(20))
	before := s
	s.Late(10)
	s.Late(math.NaN())
	if s != before {
		t.Error("a lower one changed the record")
	}
	s.Late(300)
	short, shift, cohb := s.Newest()
	f := s.At(s.Last)
	if f.Peak != 300 || f.TWA15PPM != short || f.TWA8hPPM != shift || f.COHbPercent != cohb || math.Abs(short-20) > 1e-3 {
		t.Errorf("%+v, newest %v %v %v", f, short, shift, cohb)
	}
}
