package service

import (
	"testing"
	"unsafe"

	"pgregory.net/rapid"
)

func TestUseIsSmall(t *testing.T) {
	if n := unsafe.Sizeof(Use{}); n > 256 {
		t.Errorf("a Use takes %d bytes: at most 256", n)
	}
	if n := unsafe.Sizeof(Book{}); n > 700 {
		t.Errorf("a Book takes %d bytes: at most 700", n)
	}
}

// The days singly kept agree with a plain map, in whatever order hours come.
func TestUseAgreesWithAMap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var u Use
		plain, newest := map[Date]float64{}, Date(20_000)
		u.advance(newest)
		u.Add(newest, 0)
		for range rapid.IntRange(1, 60).Draw(t, "n") {
			d := newest + Date(rapid.IntRange(-30, 10).Draw(t, "step"))
			h := float64(rapid.IntRange(0, 12).Draw(t, "half hours")) / 2
			u.Add(d, h)
			newest = max(newest, d)
			if newest-d < useDays && d > newest-useDays {
				plain[d] = min(plain[d]+h, longestDay)
			}
		}
		for d := newest; d > newest-20; d-- {
			if got := max(0, u.on(d)); got != plain[d] {
				t.Fatalf("day %d: %v h, want %v", d-newest, got, plain[d])
			}
		}
	})
}

func TestUseUnknownIsNotIdle(t *testing.T) {
	var u Use
	u.Add(20_000, 8)
	u.Unknown(20_001)
	u.Add(20_003, 8)
	u.Unknown(20_003)
	if u.on(20_001) != unknownDay || u.on(20_002) != 0 || u.on(20_003) != 8 || u.in(4, 20_003) != 16 {
		t.Errorf("days: %v %v %v, sum %v", u.on(20_001), u.on(20_002), u.on(20_003), u.in(4, 20_003))
	}
}

// A winter's mean outlasts a summer in store.
func TestUseForgetsNoWinterInStore(t *testing.T) {
	var u Use
	for d := Date(20_000); d < 20_100; d++ {
		u.Add(d, 10)
	}
	u.advance(20_300)
	if mean := u.OldSum / u.OldDays; mean < 9.9 {
		t.Errorf("the winter's 10 h a day became %v", mean)
	}
}

func TestUseIgnoresWhatIsNoNumberOfHours(t *testing.T) {
	var u, none Use
	u.Add(20_000, -1)
	u.Add(20_000, nan())
	if u != none {
		t.Errorf("kept %+v", u)
	}
}
