package alarm

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"heaterd/ingest/record"
)

func TestPlainLife(t *testing.T) {
	s := tell(t)
	s.see(0, stop(true))
	s.must(time.Minute, ack("H-07.shutdown-unexplained.1"))
	s.see(2*time.Minute, stop(false))
	s.see(3*time.Minute, stop(true))
	s.see(4*time.Minute, stop(false))
	s.see(5*time.Minute, stop(true))
	s.see(6*time.Minute, stop(false))
	s.must(7*time.Minute, ack("H-07.shutdown-unexplained.2"))
	s.want(
		"0s H-07.shutdown-unexplained.1 normal>unacknowledged",
		"1m0s H-07.shutdown-unexplained.1 unacknowledged>acknowledged",
		"2m0s H-07.shutdown-unexplained.1 acknowledged>normal",
		"3m0s H-07.shutdown-unexplained.2 normal>unacknowledged",
		"4m0s H-07.shutdown-unexplained.2 unacknowledged>returned",
		"5m0s H-07.shutdown-unexplained.2 returned>unacknowledged",
		"6m0s H-07.shutdown-unexplained.2 unacknowledged>returned",
		"7m0s H-07.shutdown-unexplained.2 returned>normal",
	)
}

func TestLatchedUntilSafetyResets(t *testing.T) {
	s := tell(t)
	const id = "quay.hall.co-ceiling.1"
	reset := record.Answer{Act: record.Reset, Alarm: id, By: "B. Warden", Role: Safety, Why: "site aired and measured the hall"}
	s.see(0, ceiling(230))
	s.see(time.Minute, ceiling(198.5)) // within the dead-band
	s.see(2*time.Minute, ceiling(20))
	s.tick(28 * time.Minute) // silence ends nothing
	s.see(29*time.Minute, ceiling(20))
	refused(t, s.do(31*time.Minute, reset), NotNow, "acknowledge it first")
	s.must(32*time.Minute, ack(id))
	s.must(32*time.Minute, ack(id)) // twice does no harm
	s.tick(72 * time.Hour)
	tech := reset
	tech.Role = Technician
	refused(t, s.do(73*time.Hour, tech), NotAllowed, "safety role")
	silent := reset
	silent.Why = ""
	refused(t, s.do(73*time.Hour, silent), Incomplete, "cleared the space")
	s.must(74*time.Hour, reset)
	s.want(
		"0s "+id+" normal>unacknowledged",
		"29m0s "+id+" unacknowledged>latched",
		"32m0s "+id+" latched>latched",
		"74h0m0s "+id+" latched>normal",
	)
}

// TestARefusedResetSaysHowLongYet: who is told "not yet" asks again every minute,
// or gives up.
func TestARefusedResetSaysHowLongYet(t *testing.T) {
	s := tell(t)
	const id = "quay.hall.co-ceiling.1"
	reset := record.Answer{Act: record.Reset, Alarm: id, By: "B. Warden", Role: Safety, Why: "site aired and measured the hall"}
	s.see(0, ceiling(230))
	s.must(time.Minute, ack(id))
	refused(t, s.do(time.Minute, reset), NotNow, "back to normal for 5 min")
	s.see(2*time.Minute, ceiling(20))
	refused(t, s.do(3*time.Minute+30*time.Second, reset), NotNow, "for another 4 min")
	refused(t, s.do(9*time.Minute, reset), NotNow, "until a reading says so")
	s.see(9*time.Minute, ceiling(20))
	s.must(9*time.Minute, reset)
}

func TestPeopleAlarmsCannotBeSilenced(t *testing.T) {
	s := tell(t)
	c := ceiling(230)
	c.Suppress = "planned off"
	cause := stop(true)
	s.see(0, cause)
	c.Under = &cause.Key
	s.see(0, c)
	for _, act := range []record.Act{record.Shelve, record.OutOfService} {
		err := s.do(time.Second, record.Answer{Act: act, Alarm: "quay.hall.co-ceiling.1", By: "x", Role: Safety, Why: "noise", For: time.Hour})
		refused(t, err, NotThisKind, "co-ceiling.1 cannot be")
	}
	s.want("0s H-07.shutdown-unexplained.1 normal>unacknowledged", "0s quay.hall.co-ceiling.1 normal>unacknowledged")
}

func TestAbsenceNeverClears(t *testing.T) {
	s := tell(t)
	s.see(0, stop(true))
	unknown := stop(false)
	unknown.Known = false
	s.see(time.Hour, unknown)
	s.want("0s H-07.shutdown-unexplained.1 normal>unacknowledged")
}

func TestDelaysAndDeadBand(t *testing.T) {
	s := tell(t)
	s.see(0, cold(4.9))
	s.see(30*time.Second, cold(5.1)) // did not last the on-delay
	s.see(2*time.Minute, cold(4.9))
	s.tick(10 * time.Minute)         // the tick comes late
	s.see(11*time.Minute, cold(5.3)) // within the dead-band
	s.tick(30 * time.Minute)
	s.see(31*time.Minute, cold(5.6))
	s.see(33*time.Minute, cold(5.2)) // back within it: the off-delay begins anew
	s.see(34*time.Minute, cold(6))
	s.see(38*time.Minute, cold(6))
	s.tick(time.Hour) // silence ends nothing
	s.see(61*time.Minute, cold(6))
	s.want(
		"3m0s quay.hall.space-cold.1 normal>unacknowledged",
		"1h1m0s quay.hall.space-cold.1 unacknowledged>returned",
	)
}

func TestShelving(t *testing.T) {
	s := tell(t)
	const id = "quay.hall.space-cold.1"
	shelve := record.Answer{Act: record.Shelve, Alarm: id, By: "A. Reader", Role: Technician, Why: "doors open for a delivery", For: 100 * time.Hour}
	s.see(0, cold(4))
	s.tick(time.Minute)
	nameless, endless := shelve, shelve
	nameless.By, endless.For = "", 0
	refused(t, s.do(time.Minute, nameless), Incomplete, "name")
	refused(t, s.do(time.Minute, endless), Incomplete, "how long")
	s.must(time.Hour, shelve)
	refused(t, s.do(2*time.Hour, ack(id)), NotNow, "end the shelving first")
	a := s.b.find(id)
	if a.ShelvedUntil != at(13*time.Hour) || !strings.Contains(a.Why, "asked for 4 days 4 h, at most 12 h") || a.HeldBy != "A. Reader" {
		t.Errorf("shelved until %s because %q by %q", a.ShelvedUntil, a.Why, a.HeldBy)
	}
	s.tick(20 * time.Hour)
	shelve.For = time.Hour
	s.must(21*time.Hour, shelve)
	s.see(21*time.Hour+time.Minute, cold(9))
	s.see(21*time.Hour+6*time.Minute, cold(9))
	s.tick(24 * time.Hour)
	s.want(
		"1m0s "+id+" normal>unacknowledged",
		"1h0m0s "+id+" unacknowledged>shelved",
		"13h0m0s "+id+" shelved>unacknowledged",
		"21h0m0s "+id+" unacknowledged>shelved",
		"22h0m0s "+id+" shelved>normal",
	)
}

func TestGraverAlarmsAgain(t *testing.T) {
	s := tell(t)
	s.see(0, stop(true))
	s.must(time.Minute, ack("H-07.shutdown-unexplained.1"))
	c := stop(true)
	c.Priority = High
	ts := s.b.Observe(at(2*time.Minute), c)
	if len(ts) != 1 || !ts[0].ReAlarm || !ts[0].Pages() || ts[0].Alarm.Priority != High {
		t.Fatalf("a graver condition gave %+v", ts)
	}
	c.Priority = Low
	if ts := s.b.Observe(at(3*time.Minute), c); len(ts) != 0 {
		t.Errorf("a lesser condition gave %+v", ts)
	}
	if a := s.b.find("H-07.shutdown-unexplained.1"); a.Priority != High {
		t.Errorf("priority fell to %s within one occurrence", a.Priority)
	}
}

func TestReAlarm(t *testing.T) {
	s := tell(t)
	s.see(0, stop(true))
	s.must(time.Minute, ack("H-07.shutdown-unexplained.1"))
	s.tick(5 * time.Hour)
	s.want(
		"0s H-07.shutdown-unexplained.1 normal>unacknowledged",
		"1m0s H-07.shutdown-unexplained.1 unacknowledged>acknowledged",
		"4h1m0s H-07.shutdown-unexplained.1 acknowledged>unacknowledged",
	)
}

func TestReAlarmSaysAfterHowLong(t *testing.T) {
	s := tell(t)
	s.see(0, stop(true))
	s.must(time.Minute, ack("H-07.shutdown-unexplained.1"))
	ts := s.b.Tick(at(5 * time.Hour))
	if len(ts) != 1 || ts[0].Why != "still so after 4 h" {
		t.Errorf("%+v", ts)
	}
	for d, want := range map[time.Duration]string{
		15 * time.Minute: "15 min", 90 * time.Minute: "1 h 30 min", day: "24 h", 9 * day: "9 days", 61 * time.Hour: "2 days 13 h",
	} {
		if got := words(d); got != want {
			t.Errorf("%v reads %q, want %q", d, got, want)
		}
	}
}

func TestLateEvidence(t *testing.T) {
	s := tell(t)
	late := stop(true)
	late.Late, late.Since = true, at(-6*time.Hour)
	ts := s.b.Observe(at(0), late)
	if len(ts) != 1 || ts[0].To != Returned || ts[0].Pages() || !ts[0].Outcome().Late || ts[0].Alarm.Since != at(-6*time.Hour) {
		t.Fatalf("late evidence gave %+v", ts)
	}
	s.see(time.Minute, late) // again: the same record stands for it
	s.see(2*time.Minute, stop(true))
	if a := s.b.find("H-07.shutdown-unexplained.1"); a.Late || a.State != Unacknowledged {
		t.Errorf("it still holds, yet it is %s, late %v", a.State, a.Late)
	}
	co := ceiling(230)
	co.Late = true
	ts = s.b.Observe(at(0), co)
	if len(ts) != 1 || ts[0].To != Latched || ts[0].Pages() {
		t.Errorf("late evidence of a latching kind gave %+v", ts)
	}
}

func TestFoldingIsShown(t *testing.T) {
	s := tell(t)
	site := Condition{Key: Key{Kind: SiteSilent, Site: "quay"}, Active: true, Known: true}
	node := Condition{Key: Key{Kind: NodeSilent, Site: "quay", Node: "n-07"}, Active: true, Known: true, Under: &site.Key}
	s.see(0, node) // the cause is not known: not folded
	s.see(time.Second, site)
	s.see(2*time.Second, node)
	if a := s.b.find("n-07.node-silent.1"); a.Cause != "quay.site-silent.1" || !strings.Contains(a.Why, "quay.site-silent.1") {
		t.Errorf("folded under %q because %q", a.Cause, a.Why)
	}
	site.Active = false
	s.see(time.Minute, site)
	s.tick(2 * time.Minute)
	s.see(3*time.Minute, node)
	s.want(
		"0s n-07.node-silent.1 normal>unacknowledged",
		"1s quay.site-silent.1 normal>unacknowledged",
		"2s n-07.node-silent.1 unacknowledged>suppressed",
		"2m0s quay.site-silent.1 unacknowledged>returned",
		"3m0s n-07.node-silent.1 suppressed>unacknowledged",
	)
}

func TestSuppressedWhileTheDelayRuns(t *testing.T) {
	s := tell(t)
	c := cold(4)
	c.Suppress = "planned off until 05:00"
	s.see(0, c)
	s.tick(5 * time.Minute)
	s.see(6*time.Minute, cold(9))
	s.see(11*time.Minute, cold(9))
	s.want(
		"1m0s quay.hall.space-cold.1 normal>suppressed",
		"11m0s quay.hall.space-cold.1 suppressed>normal",
	)
}

func TestHeaterOutOfService(t *testing.T) {
	s := tell(t)
	out := record.Answer{Act: record.OutOfService, Heater: "H-07", By: "A. Reader", Role: Technician, Why: "on the bench"}
	in := out
	in.Act = record.InService
	s.see(0, stop(true))
	s.must(time.Minute, out)
	s.must(time.Minute, out)
	s.b = again(t, s.b)
	s.see(2*time.Minute, Condition{Key: Key{Kind: FlameNotHolding, Heater: "H-07"}, Active: true, Known: true})
	s.see(3*time.Minute, ceiling(300))
	s.see(4*time.Minute, stop(false))
	s.must(time.Hour, in)
	refused(t, s.do(2*time.Hour, in), NotNow, "in service already")
	s.want(
		"0s H-07.shutdown-unexplained.1 normal>unacknowledged",
		"1m0s H-07.heater-out-of-service.1 normal>out-of-service",
		"1m0s H-07.shutdown-unexplained.1 unacknowledged>out-of-service",
		"2m0s H-07.flame-not-holding.1 normal>out-of-service",
		"3m0s quay.hall.co-ceiling.1 normal>unacknowledged",
		"1h0m0s H-07.heater-out-of-service.1 out-of-service>normal",
		"1h0m0s H-07.flame-not-holding.1 out-of-service>unacknowledged",
		"1h0m0s H-07.shutdown-unexplained.1 out-of-service>normal",
	)
}

func TestChatterHoldsTheAlarm(t *testing.T) {
	s := tell(t)
	supply := Condition{Key: Key{Kind: SupplyLost, Heater: "H-07"}, Known: true}
	for i := range 4 {
		supply.Active = true
		s.see(time.Duration(4*i)*time.Minute, supply)
		supply.Active = false
		s.see(time.Duration(4*i+2)*time.Minute, supply)
	}
	s.tick(3 * time.Hour)
	s.want(
		"0s H-07.supply-lost.1 normal>unacknowledged",
		"3m0s H-07.supply-lost.1 unacknowledged>returned",
		"4m0s H-07.supply-lost.1 returned>unacknowledged",
		"7m0s H-07.supply-lost.1 unacknowledged>returned",
		"8m0s H-07.supply-lost.1 returned>unacknowledged",
		"44m0s H-07.supply-lost.1 unacknowledged>returned",
	)
}

func TestAnswersThatCannotBe(t *testing.T) {
	s := tell(t)
	s.see(0, stop(true))
	const id = "H-07.shutdown-unexplained.1"
	cases := []struct {
		a      record.Answer
		fault  Fault
		advice string
	}{
		{ack("H-99.shutdown-unexplained.1"), NoSuchAlarm, "page of alarms"},
		{record.Answer{Act: record.Acknowledge, Alarm: id, By: "x", Role: "viewer"}, NotAllowed, "may only look"},
		{record.Answer{Act: record.Acknowledge, Alarm: id, By: "x"}, NotAllowed, "may only look"},
		{record.Answer{Act: "silence", Alarm: id, By: "x", Role: Safety}, Incomplete, "use acknowledge"},
		{record.Answer{Act: record.Unshelve, Alarm: id, By: "x", Role: Safety}, NotNow, "not shelved"},
		{record.Answer{Act: record.InService, Alarm: id, By: "x", Role: Safety}, NotNow, "not out of service"},
		{record.Answer{Act: record.Reset, Alarm: id, By: "x", Role: Safety, Why: "y"}, NotNow, "ends by itself"},
		{record.Answer{Act: record.Acknowledge, Heater: "H-07", By: "x", Role: Safety}, NotThisKind, "name the alarm"},
	}
	for _, c := range cases {
		refused(t, s.do(time.Minute, c.a), c.fault, c.advice)
	}
	s.want("0s " + id + " normal>unacknowledged")
}

// What tells that a heater is out of service is ended by putting that back, and
// whoever asks for anything else of it is told so.
func TestAHeaterOutOfServiceIsOnlyPutBack(t *testing.T) {
	s := tell(t)
	s.must(time.Minute, record.Answer{Act: record.OutOfService, Heater: "H-07", By: "x", Role: Technician, Why: "in the shop"})
	const id = "H-07.heater-out-of-service.1"
	refused(t, s.do(2*time.Minute, ack(id)), NotNow, "put it back in service first")
	s.must(3*time.Minute, record.Answer{Act: record.InService, Alarm: id, By: "x", Role: Technician})
	refused(t, s.do(4*time.Minute, ack(id)), NotNow, "it is over")
}

func TestQuietCostsNothing(t *testing.T) {
	b := NewBook(Rules())
	b.Observe(zero, stop(true))
	c := ceiling(3)
	if n := testing.AllocsPerRun(100, func() { b.Observe(zero, c) }); n != 0 {
		t.Errorf("a quiet observation allocates %v times", n)
	}
}

func BenchmarkObserveQuiet(b *testing.B) {
	book := NewBook(Rules())
	for i := range 200 {
		book.Observe(zero, Condition{Key: Key{Kind: FuelLow, Heater: fmt.Sprint("H-", i)}, Active: true})
	}
	c := ceiling(3)
	b.ReportAllocs()
	for b.Loop() {
		book.Observe(zero, c)
	}
}

func BenchmarkObserveStanding(b *testing.B) {
	book := NewBook(Rules())
	c := ceiling(300)
	b.ReportAllocs()
	for b.Loop() {
		book.Observe(zero, c)
	}
}

func TestSpeak(t *testing.T) {
	b := NewBook(Rules())
	b.Speak(func(a Alarm) string { return string(a.Kind) + " " + string(a.State) })
	ts := b.Observe(zero, stop(true))
	if got := ts[0].Outcome().Text; got != "shutdown-unexplained unacknowledged" {
		t.Errorf("text is %q", got)
	}
}

func TestNoNumberStillAlarms(t *testing.T) {
	for _, v := range []float64{math.NaN(), math.Inf(1)} {
		b := NewBook(Rules())
		c := ceiling(230)
		c.Value, c.Findings.Coverage = v, &v
		ts := b.Observe(zero, c)
		if len(ts) != 1 || ts[0].Alarm.HasValue {
			t.Fatalf("%v gave %+v", v, ts)
		}
		if _, err := json.Marshal(ts); err != nil {
			t.Error(err)
		}
	}
}

// TestTheWorstValueStays lets CO rise, fall below the limit, and rise again
// less far before anybody resets it; a cold space counts the other way.
func TestTheWorstValueStays(t *testing.T) {
	s := tell(t)
	worst := func(want float64, id string) {
		t.Helper()
		if a := s.b.find(id); a.Worst != want {
			t.Errorf("worst of %s is %g, want %g", id, a.Worst, want)
		}
	}
	for i, v := range []float64{210, 290, 240, 12, 8} {
		s.see(time.Duration(i)*10*time.Minute, ceiling(v))
	}
	worst(290, "quay.hall.co-ceiling.1")
	s.see(time.Hour, ceiling(205))
	worst(290, "quay.hall.co-ceiling.1")
	for i, v := range []float64{3, 1, 2} {
		s.see(2*time.Hour+time.Duration(i)*time.Minute, cold(v))
	}
	worst(1, "quay.hall.space-cold.1")
}
