package alarm

import (
	"encoding/json"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// step is one thing that happens in a random history.
type step struct {
	after time.Duration // since the step before
	see   *Condition
	do    *record.Answer
}

var modelKeys = []Key{
	{Kind: COCeiling, Site: "quay", Space: "hall"},
	{Kind: CORising, Site: "quay", Space: "hall"},
	{Kind: SpaceCold, Site: "quay", Space: "hall"},
	{Kind: SiteSilent, Site: "quay"},
	{Kind: NodeSilent, Site: "quay", Heater: "H-07"},
	{Kind: ShutdownUnexplained, Site: "quay", Heater: "H-07"},
	{Kind: FuelLow, Site: "quay", Heater: "H-07"},
}

func history(t *rapid.T) []step {
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) step {
		s := step{after: time.Duration(rapid.IntRange(0, 1200).Draw(t, "after")) * time.Second}
		if rapid.IntRange(0, 3).Draw(t, "what") > 0 {
			s.see = condition(t)
		} else {
			s.do = answer(t)
		}
		return s
	}), 1, 80).Draw(t, "history")
}

func condition(t *rapid.T) *Condition {
	c := &Condition{
		Key:    rapid.SampledFrom(modelKeys).Draw(t, "key"),
		Active: rapid.Bool().Draw(t, "active"),
		Known:  rapid.Bool().Draw(t, "known"),
		Late:   rapid.IntRange(0, 9).Draw(t, "late") == 0,
	}
	c.Priority = rapid.SampledFrom([]Priority{"", Low, Medium, High, Critical}).Draw(t, "priority")
	if rapid.IntRange(0, 5).Draw(t, "suppress") == 0 {
		c.Suppress = "planned"
	}
	if rapid.IntRange(0, 3).Draw(t, "under") == 0 {
		c.Under = &modelKeys[3]
	}
	return c
}

func answer(t *rapid.T) *record.Answer {
	a := &record.Answer{
		Act: rapid.SampledFrom([]record.Act{
			record.Acknowledge, record.Acknowledge, record.Shelve, record.Unshelve,
			record.Reset, record.OutOfService, record.InService,
		}).Draw(t, "act"),
		By:   "x",
		Role: rapid.SampledFrom([]string{Technician, Safety, Safety}).Draw(t, "role"),
		Why:  rapid.SampledFrom([]string{"", "aired", "aired"}).Draw(t, "why"),
		For:  time.Duration(rapid.IntRange(0, 40).Draw(t, "for")) * time.Hour,
	}
	k := rapid.SampledFrom(modelKeys).Draw(t, "of")
	if rapid.IntRange(0, 3).Draw(t, "whole") == 0 {
		a.Heater = "H-07"
	} else {
		a.Alarm = id(k.stem(), rapid.IntRange(1, 4).Draw(t, "n"))
	}
	return a
}

// play runs a history; every > 0 ticks that often in between, and restart
// takes the book through JSON after every step.
func play(t *rapid.T, steps []step, every time.Duration, restart bool) []Transition {
	b := NewBook(Rules())
	now, all := zero, []Transition{}
	for _, s := range steps {
		until := now.Add(s.after)
		for every > 0 && now.Add(every) < until {
			now = now.Add(every)
			all = append(all, b.Tick(now)...)
		}
		now = until
		if s.see != nil {
			all = append(all, b.Observe(now, *s.see)...)
		} else {
			ts, _ := b.Answer(now, *s.do)
			all = append(all, ts...)
		}
		if restart {
			b = again(t, b)
		}
	}
	return append(all, b.Tick(now.Add(1000*time.Hour))...)
}

// How often the clock ticks, and whether the daemon restarts in between,
// changes nothing in what happens.
func TestTicksAndRestartsDoNotShow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		steps := history(t)
		plain := play(t, steps, 0, false)
		if d := cmp.Diff(tidy(t, plain), tidy(t, play(t, steps, 7*time.Second, false))); d != "" {
			t.Fatalf("ticks show (-none +often):\n%s", d)
		}
		if d := cmp.Diff(tidy(t, plain), tidy(t, play(t, steps, 0, true))); d != "" {
			t.Fatalf("restarts show (-none +often):\n%s", d)
		}
	})
}

// tidy brings transitions into the order of time, since a late tick reports
// late, and writes them as the ledger would.
func tidy(t *rapid.T, ts []Transition) []string {
	slices.SortStableFunc(ts, func(x, y Transition) int {
		if x.At != y.At {
			return int(x.At - y.At)
		}
		if c := x.Alarm.Key.Compare(y.Alarm.Key); c != 0 {
			return c
		}
		return x.Alarm.Seq - y.Alarm.Seq
	})
	var lines []string
	for _, tr := range ts {
		raw, err := json.Marshal(tr)
		if err != nil {
			t.Fatal(err)
		}
		lines = append(lines, string(raw))
	}
	return lines
}

// What must hold in every history.
func TestInvariants(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		last := map[string]Transition{}
		for _, tr := range play(t, history(t), 0, false) {
			before, seen := last[tr.Alarm.ID]
			last[tr.Alarm.ID] = tr
			switch {
			case !seen && tr.From != Normal, seen && tr.From != before.To:
				t.Fatalf("%s jumps: %+v after %+v", tr.Alarm.ID, tr, before)
			case seen && before.To == Normal:
				t.Fatalf("%s lives again: %+v", tr.Alarm.ID, tr)
			case tr.Alarm.Seq != before.Alarm.Seq+1:
				t.Fatalf("%s misses a number: %+v after %+v", tr.Alarm.ID, tr, before)
			case seen && tr.At < before.At:
				t.Fatalf("%s runs backwards: %+v after %+v", tr.Alarm.ID, tr, before)
			case seen && before.Alarm.Priority.Outranks(tr.Alarm.Priority):
				t.Fatalf("%s became less pressing: %+v after %+v", tr.Alarm.ID, tr, before)
			case tr.From == tr.To && tr.Event != AlarmAgain && tr.Event != Acknowledge && tr.Event != Shelve:
				t.Fatalf("%s does not move: %+v", tr.Alarm.ID, tr)
			}
			managed(t, tr)
		}
	})
}

func managed(t *rapid.T, tr Transition) {
	r := ruleOf(tr.Alarm.Kind)
	held := tr.To == Shelved || tr.To == Suppressed || tr.To == OutOfService
	switch {
	case r.HighlyManaged && held:
		t.Fatalf("%s was silenced: %+v", tr.Alarm.ID, tr)
	case r.Latching && tr.To == Normal && (tr.Event != Reset || tr.Role != Safety || tr.Why == "" || !tr.Alarm.Acked):
		t.Fatalf("%s ended without a reset: %+v", tr.Alarm.ID, tr)
	case tr.To == Shelved && (tr.By == "" || tr.Why == "" || tr.Alarm.ShelvedUntil.Sub(tr.At) > r.MaxShelve):
		t.Fatalf("%s is shelved without name, reason or end: %+v", tr.Alarm.ID, tr)
	case tr.To == Unacknowledged && (tr.Alarm.Acked || !tr.Alarm.Active):
		t.Fatalf("%s is unacknowledged and should not be: %+v", tr.Alarm.ID, tr)
	case tr.Pages() && tr.Alarm.Late:
		t.Fatalf("%s pages late: %+v", tr.Alarm.ID, tr)
	}
}

// Where only a measurement tells that it is over, there is one at the moment
// that it counts as over, and another at least an off-delay before.
func TestSilenceEndsNothingMeasured(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		steps := history(t)
		measured := map[Key][]reading.Instant{}
		now := zero
		for _, s := range steps {
			now = now.Add(s.after)
			if s.see != nil && s.see.Known && !s.see.Active {
				measured[s.see.Key] = append(measured[s.see.Key], now)
			}
		}
		for _, tr := range play(t, steps, 7*time.Second, false) {
			r, m := ruleOf(tr.Alarm.Kind), measured[tr.Alarm.Key]
			if tr.Event != Clear || !r.Measured {
				continue
			}
			if !slices.Contains(m, tr.At) || m[0] > tr.At.Add(-r.OffDelay) {
				t.Fatalf("%s ended by silence: %+v, measured %v", tr.Alarm.ID, tr, m)
			}
		}
	})
}

// What is not there any more is measured by nobody: it ends at once.
func TestWhatIsRemovedEnds(t *testing.T) {
	s := tell(t)
	s.see(0, ceiling(230))
	s.see(time.Hour, Condition{Key: ceiling(0).Key, Removed: true})
	s.want("0s quay.hall.co-ceiling.1 normal>unacknowledged", "1h0m0s quay.hall.co-ceiling.1 unacknowledged>latched")
}

// Without any word that it was measured, nothing ever leaves the active
// states but by a person's act.
func TestUnknownNeverClears(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		steps := history(t)
		for _, s := range steps {
			if s.see != nil {
				s.see.Known = false
			}
		}
		for _, tr := range play(t, steps, 0, false) {
			if tr.Event == Clear {
				t.Fatalf("cleared without evidence: %+v", tr)
			}
		}
	})
}

// What was only about to be raised of it, is not, however late that is known.
func TestWhatIsRemovedIsNotRaised(t *testing.T) {
	s := tell(t)
	cold := Condition{Key: Key{Kind: SpaceCold, Site: "quay", Space: "hall"}, Active: true, Known: true}
	s.see(0, cold)
	s.see(time.Hour, Condition{Key: cold.Key, Removed: true})
	s.tick(2 * time.Hour)
	s.want()
}
