package shutdown

import "testing"

// A sensor that tells whole degrees shows one switch-off temperature as two.
func TestAHabitReadInWholeDegrees(t *testing.T) {
	whole, finer := Habit{}, Habit{}
	for i := range 10 {
		whole.Add(float32(13 + i%2))
		finer.Add(float32(13+i%2) + 0.25)
	}
	o := DefaultOptions()
	u := whole.Usual()
	if u.N != 10 || 13 < u.C-o.slack(u) || 14 > u.C+o.slack(u) {
		t.Errorf("13 and 14 °C in turn: %+v, ± %.2f °C", u, o.slack(u))
	}
	if u := finer.Usual(); u.N != 5 {
		t.Errorf("two temperatures told finer: %d endings agree, want 5", u.N)
	}
}
