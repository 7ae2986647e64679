package notify_test

import (
	"bytes"
	"context"
	"log/slog"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/ledger"
	"heaterd/alerts/notify"
	"heaterd/ingest/reading"
	"heaterd/ingest/store"
)

// office is an outbox in a real store, a courier on it and receivers that
// keep what they got.
type office struct {
	t       *testing.T
	ledger  *ledger.Ledger
	planner *notify.Planner
	courier *notify.Courier
	log     *receivers
	journal bytes.Buffer // what the courier writes down for whoever looks after the machine
	stop    func()
}

// inOffice runs a test in a bubble, with the bubble's clock at its start.
func inOffice(t *testing.T, s notify.Settings, d notify.Duty, do func(o *office, start time.Time)) {
	t.Helper()
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		st, err := store.Open(t.Context(), filepath.Join(dir, "heaterd.db"), slog.New(slog.DiscardHandler), ledger.Migrations)
		if err != nil {
			t.Fatal(err)
		}
		defer st.Close()
		o := &office{t: t, ledger: ledger.New(st), planner: notify.New(s, yard(), d), log: &receivers{}}
		o.open(s, o.ledger)
		do(o, time.Now())
		o.stop()
	})
}

func (o *office) open(s notify.Settings, box notify.Outbox) {
	senders := map[string]notify.Sender{}
	for _, c := range s.Channels {
		senders[c.ID] = o.log
	}
	o.courier = notify.NewCourier(notify.Options{
		Planner: o.planner, Outbox: box, Senders: senders, Down: o.log.say, Logger: slog.New(slog.NewTextHandler(&o.journal, nil)),
	})
	ctx, cancel := context.WithCancel(o.t.Context())
	over := make(chan struct{})
	go func() {
		defer close(over)
		if err := o.courier.Run(ctx); err != nil {
			o.t.Error(err)
		}
	}()
	o.stop = func() { cancel(); <-over }
}

// commit plans a change and writes both down, as the alarm loop does.
func (o *office) commit(t alarm.Transition) {
	o.t.Helper()
	err := o.ledger.Commit(o.t.Context(), ledger.Batch{
		Transitions: []alarm.Transition{t}, Alarms: []alarm.Alarm{t.Alarm}, Jobs: o.planner.Plan(t),
	})
	if err != nil {
		o.t.Fatal(err)
	}
	o.courier.Wake()
}

func acknowledge(t alarm.Transition, after time.Duration) alarm.Transition {
	t.At = t.At.Add(after)
	t.From, t.To, t.Event = t.To, alarm.Acknowledged, alarm.Acknowledge
	t.Alarm.State, t.Alarm.Acked, t.Alarm.Seq = alarm.Acknowledged, true, t.Alarm.Seq+1
	return t
}

// people only, without webhook and sign.
func people() notify.Settings {
	s := crew()
	s.Channels = s.Channels[:2]
	return s
}

func (o *office) expect(start time.Time, want ...string) {
	o.t.Helper()
	expect(o.t, o.log.listing(start), want)
}

// wait lets time pass and everything settle.
func wait(d time.Duration) {
	time.Sleep(d)
	synctest.Wait()
}

func TestTellsStepByStepUntilAnswered(t *testing.T) {
	inOffice(t, people(), duty{"jo", "al"}, func(o *office, start time.Time) {
		up := raise(alarm.FlameNotHolding, alarm.High, start)
		o.commit(up)
		wait(10*time.Minute + time.Second)
		o.expect(start, "0s raised jo>letters", "10m0s raised al>letters")
		o.commit(acknowledge(up, 11*time.Minute))
		wait(2 * time.Hour)
		o.expect(start, "0s raised jo>letters", "10m0s raised al>letters")
	})
}

func TestNobodyAnswersSoEveryoneIsTold(t *testing.T) {
	inOffice(t, people(), duty{"jo", "al"}, func(o *office, start time.Time) {
		o.commit(raise(alarm.FlameNotHolding, alarm.High, start))
		wait(24 * time.Hour)
		o.expect(start, "0s raised jo>letters", "10m0s raised al>letters",
			"20m0s raised al>letters", "20m0s raised jo>letters", "20m0s raised mo>letters", "20m0s raised mo>phones")
	})
}

// Nobody acknowledged, so the others are told, and told that it is back to
// normal by then.
func TestLaterStepsSayHowItIsByThen(t *testing.T) {
	inOffice(t, people(), duty{"jo", "al"}, func(o *office, start time.Time) {
		up := raise(alarm.COCeiling, alarm.Critical, start)
		o.commit(up)
		wait(5 * time.Minute)
		down := clearing(up, 5*time.Minute)
		down.To, down.Alarm.State = alarm.Latched, alarm.Latched
		o.commit(down)
		wait(10 * time.Minute)
		told := map[string]notify.Message{}
		for _, a := range o.log.arrivals() {
			if a.Kind == notify.Raised {
				told[a.Person] = a.Message
			}
		}
		if first := told["jo"]; first.Alarm.State != "unacknowledged" || strings.Contains(first.Text, "which clears nothing") {
			t.Errorf("jo was told %s", first.Text)
		}
		if later := told["al"]; later.Alarm == nil || later.Alarm.State != "latched" || !strings.Contains(later.Text, "which clears nothing") || !strings.Contains(later.Text, later.Answer) {
			t.Errorf("al was told %+v", later)
		}
	})
}

func TestTellsTheEndToThoseWhoWereTold(t *testing.T) {
	inOffice(t, people(), duty{"jo", "al"}, func(o *office, start time.Time) {
		up := raise(alarm.FlameNotHolding, alarm.High, start)
		o.commit(up)
		wait(5 * time.Minute)
		acked := acknowledge(up, 5*time.Minute)
		o.commit(acked)
		wait(time.Minute)
		down := clearing(acked, time.Minute)
		down.From, down.To, down.Alarm.State = alarm.Acknowledged, alarm.Normal, alarm.Normal
		o.commit(down)
		wait(time.Hour)
		o.expect(start, "0s raised jo>letters", "6m30s ended jo>letters") // the change is at 6m
		if last := o.log.arrivals()[1]; !strings.Contains(last.Text, "Ended") {
			t.Errorf("the end reads %q", last.Text)
		}
	})
}

func TestMorningMessageSaysWhatWaitsThen(t *testing.T) {
	inOffice(t, people(), duty{"jo", "al"}, func(o *office, start time.Time) { // the bubble begins at midnight UTC
		first := raise(alarm.RuntimeJump, alarm.Low, start)
		second := raise(alarm.NodeClock, alarm.Low, start)
		o.commit(first)
		o.commit(second)
		wait(time.Hour)
		o.commit(acknowledge(first, time.Hour))
		wait(47 * time.Hour)
		o.expect(start, "7h0m0s digest jo>letters")
		if len(o.log.arrivals()) == 1 && !strings.Contains(o.log.arrivals()[0].Subject, "1 thing") {
			t.Errorf("%+v", o.log.arrivals()[0])
		}
	})
}

func TestMorningMessageIsLeftOutWhenNothingWaits(t *testing.T) {
	inOffice(t, people(), duty{"jo", "al"}, func(o *office, start time.Time) {
		low := raise(alarm.RuntimeJump, alarm.Low, start)
		o.commit(low)
		o.commit(acknowledge(low, time.Minute))
		wait(48 * time.Hour)
		o.expect(start)
		if len(o.log.news()) != 0 {
			t.Errorf("a channel was said to be %q", o.log.news())
		}
	})
}

func TestSignSaysHowThingsAre(t *testing.T) {
	s := crew()
	s.Channels = s.Channels[3:]
	inOffice(t, s, nil, func(o *office, start time.Time) {
		up := raise(alarm.COCeiling, alarm.Critical, start)
		minor := raise(alarm.RuntimeJump, alarm.Low, start)
		o.commit(minor)
		o.commit(up)
		wait(time.Second)
		last := o.log.arrivals()[len(o.log.arrivals())-1]
		if last.Topic != "heaterd/sites/quay/spaces/hall/alarm" || !strings.Contains(last.Text, `"state":"unacknowledged","site":"quay","space":"hall","alarm":"H-07.co-ceiling.1","kind":"co-ceiling","priority":"critical"`) {
			t.Errorf("on %s: %s", last.Topic, last.Text)
		}
		for _, change := range []alarm.Transition{up, minor} {
			change.At = reading.InstantOf(time.Now())
			change.From, change.To, change.Alarm.State, change.Alarm.Seq = alarm.Unacknowledged, alarm.Normal, alarm.Normal, 9
			o.commit(change)
		}
		wait(time.Second)
		if last := o.log.arrivals()[len(o.log.arrivals())-1]; !strings.Contains(last.Text, `"state":"normal"`) || !strings.Contains(last.Text, `"alarms":0`) {
			t.Errorf("at the end: %s", last.Text)
		}
	})
}

// States written one after the other arrive in that order, however slowly:
// the last one published is how things are.
func TestStatesDoNotOvertake(t *testing.T) {
	s := crew()
	s.Channels = s.Channels[3:]
	inOffice(t, s, nil, func(o *office, start time.Time) {
		most, now := 0, 0
		o.stop()
		o.courier = notify.NewCourier(notify.Options{Planner: o.planner, Outbox: o.ledger, Logger: slog.New(slog.DiscardHandler),
			Senders: map[string]notify.Sender{"signs": senderFunc(func(ctx context.Context, m notify.Message) error {
				now++
				most = max(most, now)
				time.Sleep(3 * time.Second)
				now--
				return nil
			})}})
		ctx, cancel := context.WithCancel(o.t.Context())
		over := make(chan struct{})
		go func() { defer close(over); _ = o.courier.Run(ctx) }()
		o.stop = func() { cancel(); <-over }
		for i := range 8 {
			up := raise(alarm.RuntimeJump, alarm.Low, start)
			up.Alarm.ID += "." + string(rune('a'+i))
			o.commit(up)
		}
		wait(time.Minute)
		if most != 1 {
			t.Errorf("%d at a time", most)
		}
	})
}

type senderFunc func(ctx context.Context, m notify.Message) error

func (f senderFunc) Send(ctx context.Context, m notify.Message) error { return f(ctx, m) }

// What is due while the outbox cannot be used goes out when it can again.
func TestOutboxThatFailsForAWhile(t *testing.T) {
	inOffice(t, people(), duty{"jo", "al"}, func(o *office, start time.Time) {
		o.stop()
		box := &mortal{Ledger: o.ledger}
		box.dead.Store(true)
		o.open(people(), box)
		o.commit(raise(alarm.FlameNotHolding, alarm.High, start))
		wait(90 * time.Second)
		if err := o.courier.Healthy(); err == nil {
			t.Error("healthy without an outbox")
		}
		if since := time.Since(o.courier.Beat()); since > time.Second {
			t.Errorf("the loop last turned %v ago", since)
		}
		box.dead.Store(false)
		wait(2 * time.Second)
		o.expect(start.Add(90*time.Second), "0s raised jo>letters")
		if err := o.courier.Healthy(); err != nil {
			t.Error(err)
		}
	})
}
