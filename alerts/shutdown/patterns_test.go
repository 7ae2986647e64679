package shutdown_test

import (
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/outcome"
	"heaterd/alerts/shutdown"
	"heaterd/ingest/reading"
)

const noon = reading.Instant(1_768_219_200_000_000) // 2026-01-12T12:00:00Z

func past(minutes float64, lasted time.Duration, why outcome.Ending) shutdown.Past {
	return shutdown.Past{End: noon.Add(time.Duration(minutes * float64(time.Minute))), Lasted: lasted, Ending: why}
}

func TestRepeating(t *testing.T) {
	const u = outcome.Unexplained
	long := 40 * time.Minute
	tests := map[string]struct {
		past []shutdown.Past
		want bool
	}{
		"three in a day":       {[]shutdown.Past{past(0, long, u), past(300, long, u), past(900, long, u)}, true},
		"two in a day":         {[]shutdown.Past{past(0, long, u), past(300, long, u)}, false},
		"retries of one":       {[]shutdown.Past{past(0, long, u), past(2, time.Minute, u), past(4, time.Minute, u), past(6, time.Minute, u)}, false},
		"satisfied do not add": {[]shutdown.Past{past(0, long, u), past(300, long, outcome.Satisfied), past(600, long, outcome.Planned), past(900, long, u)}, false},
		"too far apart":        {[]shutdown.Past{past(-2000, long, u), past(300, long, u), past(900, long, u)}, false},
	}
	o := shutdown.DefaultOptions()
	for name, c := range tests {
		t.Run(name, func(t *testing.T) {
			got := shutdown.Repeating(c.past, noon.Add(15*time.Hour), &o)
			if got.Found != c.want || got.Found != (len(got.Evidence) > 0) || got.Found != (len(got.Checks) > 0) {
				t.Errorf("%+v", got)
			}
		})
	}
}

func TestNotHolding(t *testing.T) {
	const u = outcome.Unexplained
	o := shutdown.DefaultOptions()
	short := []shutdown.Past{past(0, 40*time.Second, u), past(5, 90*time.Second, u), past(10, 100*time.Second, u)}
	if got := shutdown.NotHolding(short, noon.Add(11*time.Minute), &o); !got.Found || !strings.Contains(got.Checks[0], "photocell") {
		t.Errorf("%+v", got)
	}
	if got := shutdown.NotHolding(short, noon.Add(3*time.Hour), &o); got.Found {
		t.Errorf("an hour later: %+v", got)
	}
	if got := shutdown.NotHolding(short[:2], noon.Add(11*time.Minute), &o); got.Found {
		t.Errorf("two: %+v", got)
	}
}

// Under the hypothesis of memoryless burns p is spread evenly; alike ages are
// found.
func TestSameAge(t *testing.T) {
	o := shutdown.DefaultOptions()
	rng := rand.New(rand.NewPCG(1, 2))
	below := 0
	const rounds = 4000
	for range rounds {
		var ps []shutdown.Past
		for i := range 8 {
			ps = append(ps, past(float64(i)*100, time.Duration(rng.ExpFloat64()*1800e9)+1, outcome.Unexplained))
		}
		if shutdown.SameAge(ps, &o).P < 0.05 {
			below++
		}
	}
	if share := float64(below) / rounds; share < 0.035 || share > 0.065 {
		t.Errorf("p below 0.05 in %.3f of memoryless records", share)
	}
	var alike []shutdown.Past
	for i := range 7 {
		alike = append(alike, past(float64(i)*100, time.Duration(50+i)*time.Minute, outcome.Unexplained))
	}
	if got := shutdown.SameAge(alike, &o); !got.Found || !strings.Contains(got.Evidence[0], "Moran") {
		t.Errorf("%+v", got)
	}
	if got := shutdown.SameAge(alike[:5], &o); got.Found || got.P != 1 {
		t.Errorf("five: %+v", got)
	}
}

func TestSameTime(t *testing.T) {
	o := shutdown.DefaultOptions()
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Skip("no zone table on this machine")
	}
	var ps []shutdown.Past
	for i := range 7 {
		ps = append(ps, past(float64(i*24*60+i), time.Hour, outcome.Unexplained))
	}
	got := shutdown.SameTime(ps, zone, &o)
	if !got.Found || !strings.Contains(got.Evidence[0], "07:03") || !strings.Contains(got.Evidence[0], "Rayleigh") {
		t.Errorf("%+v", got)
	}
	if got := shutdown.SameTime(ps[:5], zone, &o); got.Found {
		t.Errorf("five: %+v", got)
	}
}

// The tries to light it again after one shutdown are all alike, and all of one
// hour; they are no pattern.
func TestRetriesMakeNoPattern(t *testing.T) {
	o := shutdown.DefaultOptions()
	ps := []shutdown.Past{past(0, time.Hour, outcome.Unexplained)}
	for i := range 8 {
		ps = append(ps, past(float64(2+2*i), 40*time.Second, outcome.Unexplained))
	}
	if got := shutdown.SameAge(ps, &o); got.Found || got.N != 1 {
		t.Errorf("same age: %+v", got)
	}
	if got := shutdown.SameTime(ps, time.UTC, &o); got.Found || got.N != 1 {
		t.Errorf("same time: %+v", got)
	}
}

func TestSameAgeOfAgesAllAlike(t *testing.T) {
	o := shutdown.DefaultOptions()
	for _, age := range []time.Duration{time.Second / 3, 61 * time.Second, 1234567 * time.Microsecond} {
		var all []shutdown.Past
		for i := range 9 {
			all = append(all, shutdown.Past{End: reading.Instant(i+1) * 3600e6, Lasted: age, Ending: outcome.Unexplained})
		}
		if p := shutdown.SameAge(all, &o); !p.Found {
			t.Errorf("nine burns of %v: %+v", age, p)
		}
	}
}
