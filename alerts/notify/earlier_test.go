package notify_test

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/notify"
)

// told gives the sentence about who was told before from the messages of one
// step: by whom it reads, and by what channel.
func (o *office) told(from, to time.Duration, start time.Time) map[string]string {
	all := map[string]string{}
	for _, a := range o.log.arrivals() {
		if after := a.at.Sub(start); after < from || after >= to {
			continue
		}
		said := ""
		for line := range strings.Lines(a.Text) {
			if strings.Contains(line, "was told at") || strings.Contains(line, "got through") {
				said += strings.TrimSpace(strings.TrimPrefix(line, "- "))
			}
		}
		all[a.Person+">"+a.Channel] = said
	}
	return all
}

func reads(t *testing.T, got, want map[string]string) {
	t.Helper()
	for who, said := range want {
		if got[who] != said {
			t.Errorf("%s reads %q, want %q", who, got[who], said)
		}
	}
	if len(got) != len(want) {
		t.Errorf("%d messages, want %d: %q", len(got), len(want), got)
	}
}

// The second one called reads that the first was and has not answered; the
// first, told once more with everyone, reads of the second.
func TestLaterStepsSayWhoWasTold(t *testing.T) {
	inOffice(t, people(), duty{"jo", "al"}, func(o *office, start time.Time) { // the bubble begins at midnight UTC
		o.commit(raise(alarm.FlameNotHolding, alarm.High, start))
		wait(time.Hour)
		const jo, both = "Jo was told at 00:00 UTC and has not answered.", "Jo was told at 00:00 UTC, Al at 00:10 UTC; nobody has answered."
		reads(t, o.told(0, time.Minute, start), map[string]string{"jo>letters": ""})
		reads(t, o.told(10*time.Minute, 11*time.Minute, start), map[string]string{"al>letters": jo})
		reads(t, o.told(20*time.Minute, time.Hour, start), map[string]string{
			"al>letters": jo, "jo>letters": "Al was told at 00:10 UTC and has not answered.", "mo>letters": both, "mo>phones": both,
		})
	})
}

// The site's contacts, who are told at once, are named as told, not as owing
// an answer.
func TestLaterStepsSayThatTheSiteWasTold(t *testing.T) {
	inOffice(t, people(), duty{"jo", "al"}, func(o *office, start time.Time) {
		o.commit(raise(alarm.COCeiling, alarm.Critical, start))
		wait(11 * time.Minute)
		reads(t, o.told(10*time.Minute, 11*time.Minute, start), map[string]string{
			"al>letters": "Jo was told at 00:00 UTC and has not answered. Site office was told at 00:00 UTC.",
		})
	})
}

// Mo's phone is down and the letter came in the same moment: that is no time to
// answer, but nobody reads that nothing got through.
func TestWhomOneChannelReachesIsNotSaidToBeOutOfReach(t *testing.T) {
	inOffice(t, people(), duty{"jo", "al"}, func(o *office, start time.Time) {
		failed := false
		o.log.answers(func(m notify.Message) error {
			second := m.Person == "al" && time.Since(start) >= 20*time.Minute && !failed
			failed = failed || second
			if second || m.Channel == "phones" {
				return errors.New("no answer")
			}
			return nil
		})
		o.commit(raise(alarm.FlameNotHolding, alarm.High, start))
		wait(21 * time.Minute)
		if got := o.told(20*time.Minute, 21*time.Minute, start)["al>letters"]; got != "Jo was told at 00:00 UTC and has not answered." {
			t.Errorf("Al reads %q", got)
		}
	})
}

// Whom no message reached is said to have had none; Mo, whose phone works, was
// told at once instead.
func TestLaterStepsSayWhoCouldNotBeReached(t *testing.T) {
	inOffice(t, people(), duty{"jo", "al"}, func(o *office, start time.Time) {
		o.log.answers(func(m notify.Message) error {
			if m.Person == "jo" {
				return errors.New("no answer")
			}
			return nil
		})
		o.commit(raise(alarm.FlameNotHolding, alarm.High, start))
		wait(11 * time.Minute)
		reads(t, o.told(10*time.Minute, 11*time.Minute, start), map[string]string{"al>letters": "Mo was told at 00:01 UTC and has not answered. No message got through to Jo."})
	})
}

// What was answered and began anew says nothing of those who were told before
// the answer.
func TestWhatBeganAnewCountsAnew(t *testing.T) {
	inOffice(t, people(), duty{"jo", "al"}, func(o *office, start time.Time) {
		up := raise(alarm.FlameNotHolding, alarm.High, start)
		o.commit(up)
		wait(time.Hour)
		acked := acknowledge(up, time.Hour)
		o.commit(acked)
		once := acked
		once.At, once.From, once.To, once.ReAlarm = once.At.Add(time.Minute), alarm.Acknowledged, alarm.Unacknowledged, true
		once.Alarm.State, once.Alarm.Acked, once.Alarm.Seq = alarm.Unacknowledged, false, once.Alarm.Seq+1
		wait(time.Minute)
		o.commit(once)
		wait(11 * time.Minute)
		reads(t, o.told(61*time.Minute, 62*time.Minute, start), map[string]string{"jo>letters": ""})
		reads(t, o.told(71*time.Minute, 73*time.Minute, start), map[string]string{"al>letters": "Jo was told at 01:01 UTC and has not answered."})
	})
}

// Whoever is told once more, with everyone, reads that it is no repetition of
// the same message, in the short one too.
func TestWhoIsToldOnceMoreReadsIt(t *testing.T) {
	inOffice(t, people(), duty{"jo", "al"}, func(o *office, start time.Time) {
		o.commit(raise(alarm.FlameNotHolding, alarm.High, start))
		wait(time.Hour)
		var said []string
		for _, a := range o.log.arrivals() {
			if a.Person != "jo" {
				continue
			}
			text := strings.Contains(a.Text, "\n- You were told of this at 00:00 UTC; nobody has acknowledged it since.\n")
			short := strings.HasSuffix(a.Short, " You were told 00:00 UTC, no answer.")
			said = append(said, fmt.Sprint(text, short))
		}
		if want := []string{"false false", "true true"}; !slices.Equal(said, want) {
			t.Errorf("Jo's messages say so: %q, want %q", said, want)
		}
	})
}
