package wording

import (
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
)

// Whoever is called to a heater where an alarm about CO stands reads of the
// air first, in every form, and of the heater last.
func TestAirComesBeforeTheHeater(t *testing.T) {
	for _, k := range alarm.Kinds() {
		f := facts(t, k)
		f.State = alarm.Unacknowledged
		f.Air = alarm.COCeiling
		subject, text := Full(f)
		if k.ConcernsPeople() {
			if strings.Contains(subject+text, "CO alarm stands") {
				t.Errorf("%s speaks of itself", k)
			}
			continue
		}
		for form, said := range map[string]string{"line": Line(f), "short": english.Short(f)} {
			if i, j := strings.Index(said, "rocedure"), strings.Index(said, "CO alarm stands"); i < 0 || j < i {
				t.Errorf("%s, %s: %s", k, form, said)
			}
		}
		if len([]rune(english.Short(f))) > MaxShort || !strings.Contains(subject, "CO ALARM STANDS") {
			t.Errorf("%s: %q, %q", k, english.Short(f), subject)
		}
		order := []string{"1. The site's procedure", "2. People out", "3. Call", "4. Then the heater"}
		for i := 1; i < len(order); i++ {
			if !strings.Contains(text, order[i-1]) || strings.Index(text, order[i]) < strings.Index(text, order[i-1]) {
				t.Errorf("%s: the letter reads\n%s", k, text)
			}
		}
	}
	f := facts(t, alarm.ShutdownUnexplained)
	f.Air = alarm.COShift
	golden(t, "behind-air.txt", whole(f))
}

// An alarm that holds, of CO that is below its limit again, does not say that
// the limit is passed by less than it.
func TestAirBelowItsLimitSaysWhatItWas(t *testing.T) {
	f := facts(t, alarm.COCeiling)
	f.Value, f.Worst = 12, 268
	for _, said := range []string{Line(f), english.Short(f)} {
		if !strings.Contains(said, "268 ppm before, last 12 ppm") {
			t.Error(said)
		}
	}
}

// TestTheAirComesBeforeTheChecks: whoever goes in to a heater airs the space
// before looking at anything, and reads it in that order.
func TestTheAirComesBeforeTheChecks(t *testing.T) {
	for _, k := range []alarm.Kind{alarm.ShutdownUnexplained, alarm.FlameNotHolding, alarm.SpaceCold, alarm.NodeSilent, alarm.SupplyLost} {
		f := facts(t, k)
		_, text := Full(f)
		inOrder(t, text, "The site's procedure", "Air a closed space before", "First checks")
		if f.State = alarm.Returned; strings.Contains(whole(f), "To bring") {
			t.Errorf("%s: something to bring to what is over", k)
		}
	}
}

// TestChecksReadAsSentences: what the rules found to look at reads as the advice
// around it, on paper and on the page alike.
func TestChecksReadAsSentences(t *testing.T) {
	f := facts(t, alarm.ShutdownUnexplained)
	f.Checks = []string{"photocell window: clean, and the cell seated", "who was there?"}
	_, text := Full(f)
	inOrder(t, text, "1) Photocell window: clean, and the cell seated.\n", "2) Who was there?\n")
}

// TestWhatEndedWhileShelvedSaysSo: it stays shelved, and whoever looks at it goes
// to no heater for what is over.
func TestWhatEndedWhileShelvedSaysSo(t *testing.T) {
	for _, state := range []alarm.State{alarm.Shelved, alarm.OutOfService, ""} {
		f := facts(t, alarm.NodeSilent)
		f.State, f.HeldBy, f.Until = state, "Kim", f.Since.Add(72*time.Hour)
		if said := Line(f); strings.HasPrefix(said, "Ended: ") {
			t.Errorf("%s, and it holds: %s", state, said)
		}
		f.Ended = f.Since.Add(time.Hour)
		if said := Line(f); !strings.HasPrefix(said, "Ended: ") || strings.Contains(said, "by Kim") != (state != "") {
			t.Errorf("%s, and it is over: %s", state, said)
		}
	}
}

// TestTheShortTextSaysWhere: who is woken by a text has to know where, before
// since when and how it was.
func TestTheShortTextSaysWhere(t *testing.T) {
	f := facts(t, alarm.CODose)
	f.State, f.Worst = alarm.Latched, 21.8
	stop := facts(t, alarm.ShutdownUnexplained)
	stop.Air = alarm.COShift
	for _, f := range []Facts{f, stop} {
		if text := english.Short(f); !strings.Contains(text, "Main hall, Quay Street hall") {
			t.Errorf("%q", text)
		}
	}
}
