package notify_test

import (
	"context"
	"errors"
	"log/slog"
	"slices"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/ledger"
	"heaterd/alerts/notify"
)

func TestReceiverDownForADay(t *testing.T) {
	inOffice(t, people(), duty{"jo", ""}, func(o *office, start time.Time) {
		o.log.answers(func(notify.Message) error {
			if time.Since(start) < 24*time.Hour {
				return errors.New("no answer")
			}
			return nil
		})
		up := raise(alarm.FlameNotHolding, alarm.High, start)
		o.commit(up)
		wait(2 * time.Minute)
		if !slices.Equal(o.log.news(), []string{"letters down: no answer"}) {
			t.Errorf("told %q", o.log.news())
		}
		if h := o.courier.Health(); !h[0].Down || h[0].Why != "no answer" || o.courier.Mute() { // a phone was not tried yet
			t.Errorf("health %+v, mute %v", h, o.courier.Mute())
		}
		wait(24*time.Hour + 10*time.Minute)
		late := o.log.listing(start)
		if len(late) != 4 || !slices.ContainsFunc(late, func(s string) bool { return strings.HasSuffix(s, "jo>letters") }) {
			t.Errorf("after a day: %q", late)
		}
		// phones first worked a day later, too
		if n := len(o.log.news()); o.log.news()[n-1] != "letters up" && o.log.news()[n-1] != "phones up" {
			t.Errorf("told %q", o.log.news())
		}
		jobs, err := o.ledger.JobsOf(o.t.Context(), up.Alarm.ID)
		if err != nil {
			t.Fatal(err)
		}
		for _, j := range jobs {
			overtaken := j.State == ledger.Cancelled && j.Step < 2 // the last one told them
			if j.State != ledger.Sent && !overtaken || j.Attempts > 400 {
				t.Errorf("%s is %s after %d attempts", j.ID, j.State, j.Attempts)
			}
		}
	})
}

// TestTheOnlyChannelTellsOfItselfOnceItWorks: whoever has one channel alone reads
// by it that it had failed, once, and not first that it does and then that it
// does not.
func TestTheOnlyChannelTellsOfItselfOnceItWorks(t *testing.T) {
	inOffice(t, people(), duty{"jo", ""}, func(o *office, start time.Time) {
		o.log.answers(func(notify.Message) error {
			if time.Since(start) < time.Hour {
				return errors.New("no answer")
			}
			return nil
		})
		down := raise(alarm.ChannelDown, alarm.High, start)
		down.Alarm.ID, down.Alarm.Key = "heaterd.channel-down.letters.1", alarm.Key{Kind: alarm.ChannelDown, Detail: "letters"}
		o.commit(down)
		wait(70 * time.Minute)
		up := clearing(down, 70*time.Minute)
		o.commit(up)
		wait(time.Hour)
		told := 0
		for _, m := range o.log.arrivals() {
			if m.Person != "jo" {
				continue
			}
			told++
			if !strings.Contains(m.Text, "Messages by letters get through again; they did not from ") {
				t.Errorf("jo reads: %s", m.Text)
			}
		}
		if told != 1 {
			t.Errorf("jo is told %d times, want once", told)
		}
	})
}

// TestTheJournalNamesAChannelThatFails: whoever looks after the machine reads it
// there, once as it begins, once as it counts as down and once as it works again.
func TestTheJournalNamesAChannelThatFails(t *testing.T) {
	inOffice(t, people(), duty{"jo", ""}, func(o *office, start time.Time) {
		o.log.answers(func(notify.Message) error {
			if time.Since(start) < time.Hour {
				return errors.New("no answer")
			}
			return nil
		})
		o.commit(raise(alarm.FlameNotHolding, alarm.High, start))
		wait(3 * time.Hour)
		written := o.journal.String()
		for _, line := range []string{
			`level=WARN msg="a message could not be sent" channel=letters why="no answer"`,
			`level=ERROR msg="a channel does not work" channel=letters why="no answer"`,
			`level=INFO msg="a channel works again" channel=letters`,
		} {
			if strings.Count(written, line) != 1 {
				t.Errorf("not once %s in\n%s", line, written)
			}
		}
	})
}

func TestGivesUpInTheEnd(t *testing.T) {
	inOffice(t, people(), duty{"jo", ""}, func(o *office, start time.Time) {
		o.log.answers(func(notify.Message) error { return errors.New("no answer") })
		up := raise(alarm.FlameNotHolding, alarm.Medium, start)
		o.commit(up)
		wait(80 * time.Hour)
		jobs, _ := o.ledger.JobsOf(o.t.Context(), up.Alarm.ID)
		for _, j := range jobs {
			if overtaken := j.State == ledger.Cancelled && j.Step < 2; !overtaken && j.State != ledger.Dead {
				t.Errorf("%s is %s", j.ID, j.State)
			}
		}
		if len(jobs) == 0 {
			t.Error("nothing was planned")
		}
	})
}

func TestNextChannelTakesOverAtTheFirstFailure(t *testing.T) {
	inOffice(t, people(), duty{"mo", "mo"}, func(o *office, start time.Time) {
		o.log.answers(func(m notify.Message) error {
			if m.Channel == "phones" {
				return errors.New("no answer")
			}
			return nil
		})
		at := start.Add(12 * time.Hour) // not in the quiet hours
		time.Sleep(12 * time.Hour)
		up := raise(alarm.FlameNotHolding, alarm.Medium, at)
		o.commit(up)
		wait(time.Minute)
		o.expect(at, "0s raised mo>letters")
		if got := o.log.arrivals()[0]; got.Address != "mo@example.org" {
			t.Errorf("sent to %q", got.Address)
		}
		o.commit(acknowledge(up, time.Minute))
		wait(time.Hour)
		o.expect(at, "0s raised mo>letters")
	})
}

// A sender with a fault in it is a channel that fails, and ends nothing else.
func TestASenderThatPanicsIsAChannelThatFails(t *testing.T) {
	inOffice(t, people(), duty{"mo", "mo"}, func(o *office, start time.Time) {
		o.log.answers(func(m notify.Message) error {
			if m.Channel == "phones" {
				panic("a fault")
			}
			return nil
		})
		at := start.Add(12 * time.Hour) // not in the quiet hours
		time.Sleep(12 * time.Hour)
		o.commit(raise(alarm.FlameNotHolding, alarm.Medium, at))
		wait(5 * time.Minute)
		o.expect(at, "0s raised mo>letters")
		if got := o.log.news(); !slices.Contains(got, "phones down: a fault in heaterd: a fault") {
			t.Errorf("told %q", got)
		}
	})
}

func TestGoneStaysGoneUntilATestSucceeds(t *testing.T) {
	s := people()
	s.People = s.People[1:] // those who have letters alone
	inOffice(t, s, duty{"jo", ""}, func(o *office, start time.Time) {
		asked := 0
		o.log.answers(func(m notify.Message) error {
			asked++
			return notify.ErrGone
		})
		for i := range 5 {
			up := raise(alarm.FlameNotHolding, alarm.High, start.Add(time.Duration(i)*time.Second))
			up.Alarm.ID += "." + string(rune('a'+i))
			o.commit(up)
			wait(time.Second)
		}
		if asked := o.log.counted(&asked); asked != 1 || !slices.Equal(o.log.news(), []string{"letters down: the receiver is gone"}) {
			t.Errorf("asked %d times, told %q", asked, o.log.news())
		}
		o.log.answers(nil)
		if _, err := o.courier.Test(o.t.Context(), "letters", ""); err != nil {
			t.Error(err)
		}
		wait(30 * time.Minute)
		if got := o.log.listing(start); !slices.Contains(got, "20m0s raised al>letters") {
			t.Errorf("after the test: %q", got)
		}
	})
}

func TestPausesAsLongAsTheReceiverAsks(t *testing.T) {
	s := people()
	s.People = s.People[1:] // those who have letters alone
	inOffice(t, s, duty{"jo", "al"}, func(o *office, start time.Time) {
		asked := 0
		o.log.answers(func(m notify.Message) error {
			asked++
			if time.Since(start) < 15*time.Minute {
				return notify.RetryAfter(15*time.Minute, errors.New("too many"))
			}
			return nil
		})
		o.commit(raise(alarm.FlameNotHolding, alarm.High, start))
		wait(15*time.Minute - time.Second)
		if asked := o.log.counted(&asked); asked != 1 {
			t.Errorf("asked %d times within the pause", asked) // al's message fell due at 10 min
		}
		wait(3 * time.Second)
		o.expect(start.Add(15*time.Minute), "0s raised al>letters", "0s raised jo>letters")
	})
}

func TestFlappingReceiverGetsEachMessageOnce(t *testing.T) {
	inOffice(t, people(), duty{"jo", "al"}, func(o *office, start time.Time) {
		n := 0
		o.log.answers(func(m notify.Message) error {
			if n++; n%3 != 0 {
				return errors.New("flapping")
			}
			return nil
		})
		for i := range 20 {
			up := raise(alarm.FlameNotHolding, alarm.High, start)
			up.Alarm.ID += "." + string(rune('a'+i))
			o.commit(up)
		}
		wait(2 * time.Hour)
		ids := map[string]int{}
		for _, a := range o.log.arrivals() {
			ids[a.ID]++
		}
		if len(ids) != 20*6 || len(o.log.arrivals()) != len(ids) {
			t.Errorf("%d messages arrived %d times", len(ids), len(o.log.arrivals()))
		}
	})
}

// One channel that answers late must not hold up another, nor a pressing
// message behind others on its own.
func TestLateAnswersHoldUpNobody(t *testing.T) {
	s := people()
	s.People[0].Channels = []string{"phones"}
	inOffice(t, s, duty{"jo", "mo"}, func(o *office, start time.Time) {
		slow := &slowReceiver{receivers: o.log}
		o.stop()
		senders := map[string]notify.Sender{"letters": slow, "phones": o.log}
		o.courier = notify.NewCourier(notify.Options{Planner: o.planner, Outbox: o.ledger, Senders: senders, Logger: slog.New(slog.DiscardHandler)})
		ctx, cancel := context.WithCancel(o.t.Context())
		over := make(chan struct{})
		go func() { defer close(over); _ = o.courier.Run(ctx) }()
		o.stop = func() { cancel(); <-over }
		var batch ledger.Batch
		for i := range 100 {
			up := raise(alarm.FlameNotHolding, alarm.Medium, start.Add(-10*time.Minute))
			up.Alarm.ID += "." + string(rune('a'+i%26)) + string(rune('a'+i/26))
			batch.Jobs = append(batch.Jobs, o.planner.Plan(up)...)
		}
		batch.Jobs = append(batch.Jobs, o.planner.Plan(raise(alarm.COCeiling, alarm.Critical, start))...)
		if err := o.ledger.Commit(ctx, batch); err != nil {
			t.Fatal(err)
		}
		o.courier.Wake()
		wait(16 * time.Second)
		got := o.log.listing(start)
		first := slices.IndexFunc(o.log.arrivals(), func(a arrival) bool { return a.Priority == alarm.Critical && a.Channel == "letters" })
		if first < 0 || first > 8 {
			t.Errorf("the critical message came as number %d of %q", first, got)
		}
		if !slices.ContainsFunc(o.log.arrivals(), func(a arrival) bool { return a.Channel == "phones" }) {
			t.Errorf("the other channel waited: %q", got)
		}
		wait(3 * time.Hour)
		seen := map[string]int{}
		for _, a := range o.log.arrivals() {
			if seen[a.ID]++; seen[a.ID] > 1 {
				t.Fatalf("%s came twice", a.ID)
			}
		}
	})
}

type slowReceiver struct{ *receivers }

func (s *slowReceiver) Send(ctx context.Context, m notify.Message) error {
	select {
	case <-time.After(15 * time.Second):
		return s.receivers.Send(ctx, m)
	case <-ctx.Done():
		return ctx.Err()
	}
}

func TestUnconfiguredChannelHandsOver(t *testing.T) {
	inOffice(t, people(), duty{"jo", "al"}, func(o *office, start time.Time) {
		o.stop()
		o.courier = notify.NewCourier(notify.Options{Planner: o.planner, Outbox: o.ledger, Logger: slog.New(slog.DiscardHandler)})
		ctx, cancel := context.WithCancel(o.t.Context())
		over := make(chan struct{})
		go func() { defer close(over); _ = o.courier.Run(ctx) }()
		o.stop = func() { cancel(); <-over }
		up := raise(alarm.FlameNotHolding, alarm.High, start)
		o.commit(up)
		wait(time.Second)
		jobs, _ := o.ledger.JobsOf(ctx, up.Alarm.ID)
		if len(jobs) == 0 || jobs[0].State != ledger.Dead || !strings.Contains(jobs[0].LastError, "not configured") {
			t.Errorf("%+v", jobs)
		}
	})
}

// A receiver that asks for an hour is told as down at once, and is asked about
// what is critical sooner all the same.
func TestALongPauseIsToldAndHoldsUpNothingCritical(t *testing.T) {
	s := people()
	s.Steps = s.Steps[:1]
	for priority, want := range map[alarm.Priority]int{alarm.High: 1, alarm.Critical: 6} {
		inOffice(t, s, duty{"jo", "jo"}, func(o *office, start time.Time) {
			asked := 0
			o.log.answers(func(notify.Message) error {
				asked++
				return notify.RetryAfter(time.Hour, errors.New("too many"))
			})
			o.commit(raise(alarm.SupplyLost, priority, start))
			wait(time.Second)
			if got := o.log.news(); !slices.Equal(got, []string{"letters down: too many"}) {
				t.Errorf("%s: told %q", priority, got)
			}
			wait(28 * time.Minute)
			if got := o.log.counted(&asked); got != want {
				t.Errorf("%s: asked %d times, want %d", priority, got, want)
			}
		})
	}
}

// Once a message gets through, those that failed meanwhile come within a minute,
// however long their pauses had become.
func TestWhatWaitedComesOnceTheChannelWorks(t *testing.T) {
	inOffice(t, people(), duty{"jo", "jo"}, func(o *office, start time.Time) {
		const out = 3 * time.Hour
		o.log.answers(func(m notify.Message) error {
			if m.Channel == "letters" && time.Since(start) < out {
				return errors.New("no answer")
			}
			return nil
		})
		for i := range 12 {
			up := raise(alarm.FlameNotHolding, alarm.Medium, start.Add(time.Duration(i)*7*time.Minute))
			up.Alarm.ID += "." + string(rune('a'+i))
			wait(time.Until(up.At.Time()))
			o.commit(up)
		}
		wait(out + 15*time.Minute - time.Since(start))
		var first, last time.Duration
		got := map[string]bool{}
		for _, a := range o.log.arrivals() {
			if a.Person != "jo" || a.Kind != notify.Raised || got[a.Alarm.ID] {
				continue
			}
			got[a.Alarm.ID] = true
			last = a.at.Sub(start)
			if first == 0 {
				first = last
			}
		}
		if len(got) != 12 || last-first > 61*time.Second {
			t.Errorf("%d came, from %v to %v", len(got), first, last)
		}
	})
}

// Nobody waits for an answer of one who cannot have been told.
func TestTheNextStepDoesNotWaitForWhoIsNotReached(t *testing.T) {
	for name, c := range map[string]struct {
		priority alarm.Priority
		on, next string // whoever is on call; mo alone has phones
		err      error
		want     string // the first that mo is told
	}{
		"the channel is down":             {alarm.High, "jo", "mo", errors.New("no answer"), "1m"},
		"the receiver will never take it": {alarm.High, "jo", "mo", notify.Permanent(errors.New("no such address")), "0s"},
		"it is not urgent":                {alarm.Medium, "jo", "mo", errors.New("no answer"), "10m"},
		"another channel got through":     {alarm.High, "mo", "al", errors.New("no answer"), "0s"},
	} {
		t.Run(name, func(t *testing.T) {
			inOffice(t, people(), duty{c.on, c.next}, func(o *office, start time.Time) {
				time.Sleep(12 * time.Hour) // not in the quiet hours
				start = start.Add(12 * time.Hour)
				o.log.answers(func(m notify.Message) error {
					if m.Channel == "letters" {
						return c.err
					}
					return nil
				})
				o.commit(raise(alarm.FlameNotHolding, c.priority, start))
				wait(9*time.Minute + 30*time.Second)
				got := o.log.listing(start)
				if c.want == "10m" {
					if len(got) > 0 {
						t.Errorf("told %q", got)
					}
					wait(time.Minute)
					got = o.log.listing(start)
				}
				if len(got) != 1 || !strings.HasPrefix(got[0], c.want) || !strings.HasSuffix(got[0], "mo>phones") {
					t.Errorf("told %q", got)
				}
				if text := o.log.arrivals()[0].Text; c.want == "1m" && !strings.Contains(text, "No message got through to Jo") {
					t.Errorf("mo reads %s", text)
				}
			})
		})
	}
}

// While everything is down nothing is brought forward: each step has its time,
// and what tells once more of bad air, long after, too.
func TestNothingIsBroughtForwardToAChannelThatIsDown(t *testing.T) {
	s := people()
	s.People = s.People[1:] // those who have letters alone
	inOffice(t, s, duty{"jo", "al"}, func(o *office, start time.Time) {
		o.log.answers(func(notify.Message) error { return errors.New("no answer") })
		up := raise(alarm.COCeiling, alarm.Critical, start)
		o.commit(up)
		wait(5 * time.Minute)
		if !o.courier.Mute() {
			t.Error("nobody is reached, and it is not said")
		}
		jobs, err := o.ledger.JobsOf(o.t.Context(), up.Alarm.ID)
		if err != nil {
			t.Fatal(err)
		}
		tried, later := 0, 0
		for _, j := range jobs {
			switch {
			case j.Person == "" || j.Attempts > 0:
				tried = max(tried, j.Step)
			case j.Step > 2 && j.NextAttempt.Time().Sub(start) < 30*time.Minute:
				later++
			}
		}
		if tried != 0 || later > 0 {
			t.Errorf("tried up to step %d, %d of those after the last are brought forward", tried, later)
		}
	})
}

// TestWhatIsCriticalComesFirstOnceTheChannelWorks: the pauses of what is
// critical are the shortest, and what had longer ones must not pass it.
func TestWhatIsCriticalComesFirstOnceTheChannelWorks(t *testing.T) {
	s := people()
	s.People = s.People[1:] // those who have letters alone
	inOffice(t, s, duty{"jo", ""}, func(o *office, start time.Time) {
		o.log.answers(func(notify.Message) error {
			if time.Since(start) < 40*time.Minute {
				return errors.New("no answer")
			}
			return nil
		})
		for i := range 5 {
			for kind, p := range map[alarm.Kind]alarm.Priority{alarm.COCeiling: alarm.Critical, alarm.FlameNotHolding: alarm.Medium} {
				up := raise(kind, p, start)
				up.Alarm.ID += "." + string(rune('a'+i))
				o.commit(up)
			}
		}
		wait(50 * time.Minute)
		var first time.Time
		for _, m := range o.log.arrivals() {
			if m.Channel != "letters" {
				continue
			}
			if first.IsZero() {
				first = m.at
			}
			if late := m.at.Sub(first); m.Priority == alarm.Critical && late > time.Second {
				t.Errorf("a critical message comes %v after the channel works", late)
			}
		}
		if first.IsZero() {
			t.Error("nothing came")
		}
	})
}
