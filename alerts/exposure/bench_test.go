package exposure

import (
	"testing"
	"time"
	"unsafe"
)

func TestSensorSize(t *testing.T) {
	const most = 1331 // bytes; the engine keeps two copies for every node
	t.Logf("Sensor %d, trend %d, Decay %d, Source %d bytes",
		unsafe.Sizeof(Sensor{}), unsafe.Sizeof(trend{}), unsafe.Sizeof(Decay{}), unsafe.Sizeof(Source{}))
	if n := unsafe.Sizeof(Sensor{}); n > most {
		t.Errorf("Sensor is %d bytes, at most %d", n, most)
	}
}

func TestApplyAllocatesNothing(t *testing.T) {
	s, at := NewSensor(Rest), epoch
	n := testing.AllocsPerRun(1000, func() {
		at = at.AddSeconds(30)
		s.Apply(at, 20, 30*time.Second)
		s.At(at.AddSeconds(10))
		s.Rising(Limits{}, 15)
	})
	if n != 0 {
		t.Errorf("%v allocations for one reading", n)
	}
}

func BenchmarkApply30s(b *testing.B) {
	s, at := NewSensor(Heavy), epoch
	for i := 0; b.Loop(); i++ {
		at = at.AddSeconds(30)
		s.Apply(at, float64(i&63), 30*time.Second)
	}
}

func BenchmarkAt(b *testing.B) {
	s := NewSensor(Heavy)
	feed(&s, 3600, 30, steady(20))
	for b.Loop() {
		s.At(s.Last.AddSeconds(20))
	}
}

func BenchmarkForecast(b *testing.B) {
	s := NewSensor(Heavy)
	feed(&s, 3600, 30, func(x float64) float64 { return x / 200 })
	l, _ := Named("us-niosh")
	for b.Loop() {
		s.Forecast(s.Last, l)
	}
}
