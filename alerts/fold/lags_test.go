package fold_test

import (
	"testing"
	"time"

	"heaterd/alerts/alarm"
)

// The clock of a unit is an hour behind from its first word on. That is proven
// after a quarter of an hour; a ceiling calls somebody after a few packs.
func TestACeilingByAClockBehind(t *testing.T) {
	for _, every := range []time.Duration{30 * time.Second, 10 * time.Minute} {
		p := newPlay(t, 1)
		for i := range 6 {
			p.now = p.now.Add(every)
			x := p.sample("n-0")
			if x.At = p.now.Add(-time.Hour); i >= 3 {
				x.CO = 250
			}
			p.send("n-0", x)
		}
		if n := p.count(alarm.COCeiling, alarm.Unacknowledged); n != 1 {
			t.Errorf("every %v: a ceiling by a clock an hour behind rang %d times, want once", every, n)
		}
	}
}

// So does the cold.
func TestAColdSpaceByAClockBehind(t *testing.T) {
	p := newPlay(t, 1)
	for i := range 12 {
		p.now = p.now.Add(30 * time.Second)
		x := p.sample("n-0")
		if x.At = p.now.Add(-time.Hour); i >= 4 {
			x.Temp = -3
		}
		p.send("n-0", x)
	}
	if n := p.count(alarm.SpaceCold, alarm.Unacknowledged); n != 1 {
		t.Errorf("a space too cold by a clock an hour behind rang %d times, want once", n)
	}
}

// What a unit had kept, and sends one by one, is no clock behind.
func TestACeilingKeptIsLate(t *testing.T) {
	p := newPlay(t, 1)
	from := p.now
	p.now = p.now.Add(3 * time.Hour)
	for i := range 20 {
		p.now = p.now.Add(25 * time.Second)
		x := p.sample("n-0")
		if x.At = from.Add(time.Duration(i) * time.Minute); i >= 8 {
			x.CO = 250
		}
		p.send("n-0", x)
	}
	if n := p.count(alarm.COCeiling, alarm.Unacknowledged); n != 0 {
		t.Errorf("a ceiling of three hours ago rang %d times", n)
	}
}
