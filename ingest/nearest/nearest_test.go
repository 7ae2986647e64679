package nearest

import (
	"testing"

	"pgregory.net/rapid"
)

func TestWord(t *testing.T) {
	known := []string{"time_zone", "tank_l", "site", "space", "id", "volume_m3"}
	for word, want := range map[string]string{
		"zone": "time_zone", "time": "time_zone", "m3": "", "timezone": "time_zone", "TIME-ZONE": "time_zone", "tankl": "tank_l", "sit": "site", "stie": "site",
		"colour": "", "volume_litres": "", "": "", "volumem3": "volume_m3",
		"volume": "volume_m3", "identity": "", "tank": "tank_l", "ti": "", "siteid": "site",
	} {
		if got := Word(word, known); got != want {
			t.Errorf("%q: got %q, want %q", word, got, want)
		}
	}
}

func TestDistanceCountsSlips(t *testing.T) {
	word := rapid.StringMatching(`[a-z_]{0,12}`)
	rapid.Check(t, func(t *rapid.T) {
		a, b := word.Draw(t, "a"), word.Draw(t, "b")
		d := distance(a, b)
		if d != distance(b, a) {
			t.Error("not the same both ways")
		}
		if (d == 0) != (a == b) || d > max(len(a), len(b)) || d < abs(len(a)-len(b)) {
			t.Errorf("%d slips", d)
		}
	})
}
