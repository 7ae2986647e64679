package ledger

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"heaterd/alerts/alarm"
	"heaterd/alerts/outcome"
	"heaterd/ingest/record"
)

// Whichever statement fails, or the commit itself: nothing of the batch is
// kept, and trying again keeps all of it.
func TestAllOrNothing(t *testing.T) {
	l := open(t)
	empty := dump(t, l)
	n := int64(1)
	for ; ; n++ {
		countdown.Store(n)
		err := l.Commit(ctx, full())
		if countdown.Load() > 0 {
			must(t, err)
			break
		}
		if !errors.Is(err, errFault) {
			t.Fatalf("fault %d: %v", n, err)
		}
		if d := cmp.Diff(empty, dump(t, l)); d != "" {
			t.Fatalf("fault %d left something behind:\n%s", n, d)
		}
	}
	countdown.Store(0)
	if n < 16 {
		t.Errorf("only %d statements were tried", n)
	}
	got := dump(t, l)
	for table := range tables {
		if table != "delivery" && len(got[table]) == 0 {
			t.Errorf("nothing in %s", table)
		}
	}
	must(t, l.Commit(ctx, full()))
	if d := cmp.Diff(got, dump(t, l)); d != "" {
		t.Errorf("committing again changed:\n%s", d)
	}
}

func TestWhereItStands(t *testing.T) {
	l := open(t)
	b := alarm.NewBook(alarm.Rules())
	ts := b.Observe(zero, stop("H-07"))
	must(t, l.Commit(ctx, Batch{Cursor: 1, Transitions: ts, Alarms: b.Touched()}))
	ack, err := b.Answer(at(time.Minute), record.Answer{Act: record.Acknowledge, Alarm: ts[0].Alarm.ID, By: "x", Role: alarm.Safety})
	must(t, err)
	gone := stop("H-07")
	gone.Active = false
	ts = append(ack, b.Observe(at(2*time.Minute), gone)...)
	ts = append(ts, b.Observe(at(3*time.Minute), stop("H-07"))...)
	must(t, l.Commit(ctx, Batch{Cursor: 9, Transitions: ts, Alarms: b.Touched()}))
	must(t, l.Commit(ctx, Batch{Cursor: 4, Alarms: []alarm.Alarm{ack[0].Alarm}})) // an older row
	cursor, err := l.Cursor(ctx)
	must(t, err)
	alarms, err := l.LastAlarms(ctx)
	must(t, err)
	if cursor != 9 {
		t.Errorf("cursor %d, want 9", cursor)
	}
	if d := cmp.Diff(b.All(), alarms); d != "" {
		t.Errorf("alarms (-book +loaded):\n%s", d)
	}
	live, err := l.Live(ctx)
	must(t, err)
	if d := cmp.Diff(b.Live(), live); d != "" {
		t.Errorf("what is not over (-book +loaded):\n%s", d)
	}
	if a, ok, err := l.Alarm(ctx, "H-07.shutdown-unexplained.1"); err != nil || !ok || a.State != alarm.Normal {
		t.Errorf("first occurrence: %+v, %v, %v", a, ok, err)
	}
	history, err := l.History(ctx, Filter{From: at(time.Minute), Limit: 2})
	must(t, err)
	if d := cmp.Diff(ts[1:], history); d != "" {
		t.Errorf("history (-want +got):\n%s", d)
	}
	none, err := l.History(ctx, Filter{To: at(time.Hour), Alarm: "x"})
	if err != nil || len(none) != 0 {
		t.Errorf("history of another alarm: %v, %v", none, err)
	}
}

func TestAcknowledgementCancels(t *testing.T) {
	l := open(t)
	b := alarm.NewBook(alarm.Rules())
	raised := b.Observe(zero, stop("H-07"))
	first := Batch{Cursor: 1, Transitions: raised, Alarms: b.Touched(), Jobs: []Job{job(raised[0], 0, 0), job(raised[0], 1, time.Hour)}}
	must(t, l.Commit(ctx, first))
	sent, err := l.Claim(ctx, zero, time.Minute, 10)
	must(t, err)
	if len(sent) != 1 || sent[0].Step != 0 || sent[0].Attempts != 1 {
		t.Fatalf("claimed %+v", sent)
	}
	must(t, l.MarkSent(ctx, sent[0].ID, at(time.Second)))
	ack, err := b.Answer(at(time.Minute), record.Answer{Act: record.Acknowledge, Alarm: raised[0].Alarm.ID, By: "x", Role: alarm.Safety})
	must(t, err)
	second := Batch{Cursor: 2, Transitions: ack, Alarms: b.Touched(), Jobs: []Job{job(ack[0], 0, 0)}}
	must(t, l.Commit(ctx, second))
	must(t, l.Commit(ctx, first)) // a crash, and the same lines again
	must(t, l.Commit(ctx, second))
	late := Batch{Cursor: 2, Jobs: []Job{job(raised[0], 2, 0)}} // planned for a change that is answered by now
	must(t, l.Commit(ctx, late))
	jobs, err := l.JobsOf(ctx, raised[0].Alarm.ID)
	must(t, err)
	var got []string
	for _, j := range jobs {
		got = append(got, fmt.Sprint(j.Seq, j.Step, " ", j.State))
	}
	want := []string{"1 0 sent", "1 1 cancelled", "1 2 cancelled", "2 0 pending"}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("messages (-want +got):\n%s", d)
	}
	if at, ok, err := l.NextDue(ctx); err != nil || !ok || at != ack[0].At {
		t.Errorf("next due %s, %v, %v", at, ok, err)
	}
}

func TestLatchedWaitsForSomebody(t *testing.T) {
	l := open(t)
	b := alarm.NewBook(alarm.Rules())
	co := alarm.Condition{Key: alarm.Key{Kind: alarm.COCeiling, Site: "quay", Space: "hall"}, Active: true, Known: true}
	ts := b.Observe(zero, co)
	jobs := []Job{job(ts[0], 1, time.Hour)}
	co.Active = false
	b.Observe(at(time.Minute), co)
	ts = append(ts, b.Observe(at(30*time.Minute), co)...)
	must(t, l.Commit(ctx, Batch{Cursor: 1, Transitions: ts, Alarms: b.Touched(), Jobs: jobs}))
	state := func() JobState {
		all, err := l.JobsOf(ctx, ts[0].Alarm.ID)
		must(t, err)
		return all[0].State
	}
	if len(ts) != 2 || ts[1].To != alarm.Latched || state() != Pending {
		t.Fatalf("latched unacknowledged left the message %s: %+v", state(), ts)
	}
	ack, err := b.Answer(at(time.Hour), record.Answer{Act: record.Acknowledge, Alarm: ts[0].Alarm.ID, By: "x", Role: alarm.Technician})
	must(t, err)
	must(t, l.Commit(ctx, Batch{Cursor: 2, Transitions: ack, Alarms: b.Touched()}))
	if state() != Cancelled {
		t.Errorf("acknowledged left the message %s", state())
	}
}

// What ended by itself wakes nobody else, unless it is about the air. Who was
// first is told all the same, and of a second time everybody anew.
func TestWhatEndedWakesNobodyElse(t *testing.T) {
	l := open(t)
	b := alarm.NewBook(alarm.Rules())
	for _, c := range []struct {
		alarm.Condition
		want string
	}{
		{stop("H-07"), "[1 0 pending 1 1 cancelled 3 1 pending]"},
		{alarm.Condition{Key: alarm.Key{Kind: alarm.CORising, Site: "quay", Space: "hall"}, Active: true, Known: true}, "[1 0 pending 1 1 pending 3 1 pending]"},
	} {
		ts := b.Observe(zero, c.Condition)
		jobs := []Job{job(ts[0], 0, 0), job(ts[0], 1, time.Hour)}
		over := c.Condition
		over.Active = false
		ts = append(ts, b.Observe(at(2*time.Hour), over)...)
		ts = append(ts, b.Observe(at(4*time.Hour), over)...)
		must(t, l.Commit(ctx, Batch{Cursor: 1, Transitions: ts, Alarms: b.Touched(), Jobs: jobs}))
		again := b.Observe(at(5*time.Hour), c.Condition)
		must(t, l.Commit(ctx, Batch{Cursor: 2, Transitions: again, Alarms: b.Touched(), Jobs: []Job{job(again[0], 1, time.Hour)}}))
		all, err := l.JobsOf(ctx, ts[0].Alarm.ID)
		must(t, err)
		var got []string
		for _, j := range all {
			got = append(got, fmt.Sprint(j.Seq, j.Step, " ", j.State))
		}
		if fmt.Sprint(got) != c.want {
			t.Errorf("%s: %v, want %s", c.Kind, got, c.want)
		}
	}
}

// The clock is set back by nine minutes: what was made by the old one is due at
// once, or as long after it as it was to be, and no oftener than else.
func TestTheClockIsSetBack(t *testing.T) {
	l := open(t)
	raised := alarm.NewBook(alarm.Rules()).Observe(zero, stop("H-07"))
	must(t, l.Commit(ctx, Batch{Cursor: 1, Transitions: raised, Jobs: []Job{job(raised[0], 0, 0), job(raised[0], 1, 10*time.Minute)}}))
	back := -9 * time.Minute
	for _, c := range []struct {
		after time.Duration
		step  int // -1: nothing is due
	}{{0, 0}, {time.Second, -1}, {10*time.Minute - time.Second, -1}, {10 * time.Minute, 1}, {11*time.Minute - time.Second, -1}} {
		got, err := l.Claim(ctx, at(back+c.after), time.Hour, 10)
		must(t, err)
		if (c.step < 0) != (len(got) == 0) || len(got) > 1 || len(got) == 1 && got[0].Step != c.step {
			t.Errorf("after %v: claimed %+v, want step %d", c.after, got, c.step)
		}
	}
}

func TestLeaseAndMarks(t *testing.T) {
	l := open(t)
	digest := Job{ID: "digest/2026-01-12", Channel: "mail", Person: "p1", Body: json.RawMessage(`{}`), Created: at(-time.Hour), NextAttempt: zero}
	must(t, l.Commit(ctx, Batch{Cursor: 1, Jobs: []Job{digest}}))
	claim := func(d time.Duration) int {
		js, err := l.Claim(ctx, at(d), time.Minute, 5)
		must(t, err)
		for _, j := range js {
			if j.NextAttempt != at(d+time.Minute) {
				t.Errorf("held until %s, want a minute from %s", j.NextAttempt, at(d))
			}
		}
		return len(js)
	}
	if claim(-time.Second) != 0 || claim(0) != 1 || claim(30*time.Second) != 0 || claim(time.Minute) != 1 {
		t.Error("the lease does not hold, or does not end")
	}
	down := errors.New("connection refused")
	must(t, l.MarkFailed(ctx, digest.ID, at(time.Minute), at(time.Hour), down))
	if claim(59*time.Minute) != 0 || claim(time.Hour) != 1 {
		t.Error("the next attempt is not when it should be")
	}
	must(t, l.MarkDead(ctx, digest.ID, at(time.Hour), down))
	dead, err := l.JobsOf(ctx, "")
	if err != nil || len(dead) != 1 || dead[0].State != Dead || dead[0].LastError != "connection refused" || dead[0].Attempts != 3 {
		t.Fatalf("dead: %+v, %v", dead, err)
	}
	if claim(2*time.Hour) != 0 {
		t.Error("a message that was given up comes up")
	}
	must(t, l.MarkSent(ctx, digest.ID, at(2*time.Hour)))
	must(t, l.Commit(ctx, Batch{Cursor: 1, Jobs: []Job{digest}}))
	sent, err := l.JobsOf(ctx, "")
	if err != nil || len(sent) != 1 || sent[0].State != Sent || sent[0].DeliveredAt != at(2*time.Hour) {
		t.Errorf("sent: %+v, %v", sent, err)
	}
	ds, err := l.Deliveries(ctx, digest.ID)
	if err != nil || len(ds) != 3 || ds[0].OK || !ds[2].OK || ds[0].Error == "" {
		t.Errorf("deliveries: %+v, %v", ds, err)
	}
	if err := l.MarkSent(ctx, "none", zero); !errors.Is(err, errNoSuchJob) {
		t.Errorf("marking what is not: %v", err)
	}
}

func TestBurns(t *testing.T) {
	l := open(t)
	commit := func(rows ...BurnRow) { t.Helper(); must(t, l.Commit(ctx, Batch{Burns: rows})) }
	commit(burn("H-07", 0, time.Hour, outcome.Unknown, false), burn("H-07", 2*time.Hour, 3*time.Hour, outcome.Unknown, false))
	commit(burn("H-07", -time.Minute, 3*time.Hour, outcome.FuelOut, true)) // they were one
	commit(burn("H-07", time.Minute, time.Hour, outcome.Unknown, false))   // an older word comes too late
	commit(burn("H-07", 3*time.Hour, 4*time.Hour, outcome.Planned, false), burn("H-08", 0, time.Hour, outcome.Planned, true))
	commit(burn("H-07", 3*time.Hour, 4*time.Hour, outcome.SupplyLost, true))
	rows, err := l.Burns(ctx, "H-07", 0, 0)
	must(t, err)
	var got []string
	for _, r := range rows {
		got = append(got, fmt.Sprint(r.Start.Sub(zero), " ", r.End.Sub(zero), " ", r.Ending, " ", r.Final))
	}
	if d := cmp.Diff([]string{"-1m0s 3h0m0s fuel-out true", "3h0m0s 4h0m0s supply-lost true"}, got); d != "" {
		t.Errorf("burns (-want +got):\n%s", d)
	}
	endings, err := l.Endings(ctx, "H-07", 0, 0)
	must(t, err)
	if len(endings) != len(rows) {
		t.Fatalf("%d endings of %d burns", len(endings), len(rows))
	}
	for i, e := range endings {
		if r := rows[i]; e != (EndingRow{r.Start, r.End, r.Ending}) {
			t.Errorf("ending %+v of burn %+v", e, r)
		}
	}
	if all, err := l.Burns(ctx, "", at(-time.Hour), at(time.Minute)); err != nil || len(all) != 2 {
		t.Errorf("burns of all: %+v, %v", all, err)
	}
	for limit, want := range map[int][]BurnRow{1: rows[1:], 2: rows, 9: rows} {
		newest, err := l.NewestBurns(ctx, "H-07", 0, 0, limit)
		if d := cmp.Diff(want, newest); err != nil || d != "" {
			t.Errorf("the newest %d (-want +got): %v\n%s", limit, err, d)
		}
	}
	if before, err := l.NewestBurns(ctx, "H-07", 0, rows[1].Start, 9); err != nil || len(before) != 1 || before[0].Start != rows[0].Start {
		t.Errorf("those before the second: %+v, %v", before, err)
	}
	odd := `"ending":"made-up"`
	commit(burn(odd, 0, time.Hour, outcome.Satisfied, true))
	if e, err := l.Endings(ctx, odd, 0, 0); err != nil || len(e) != 1 || e[0].Ending != outcome.Satisfied {
		t.Errorf("of a heater with an odd name: %+v, %v", e, err)
	}
}

// A daemon that crashes at any statement, any number of times, and folds
// again from any earlier snapshot, ends with what one that never crashed has.
func TestCrashesDoNotShow(t *testing.T) {
	clean, crashing := open(t), open(t)
	rapid.Check(t, func(t *rapid.T) {
		for _, l := range []*Ledger{clean, crashing} {
			wipe(t, l)
		}
		batches := fold(t)
		for _, b := range batches {
			if err := clean.Commit(ctx, b); err != nil {
				t.Fatal(err)
			}
		}
		for i, crashes := 0, 0; i < len(batches); {
			if crashes < 6 && rapid.IntRange(0, 2).Draw(t, "crash") == 0 {
				crashes++
				countdown.Store(rapid.Int64Range(1, 12).Draw(t, "at statement"))
				_ = crashing.Commit(ctx, batches[i])
				countdown.Store(0)
				i = rapid.IntRange(0, i).Draw(t, "back to")
				continue
			}
			if err := crashing.Commit(ctx, batches[i]); err != nil {
				t.Fatal(err)
			}
			i++
		}
		if d := cmp.Diff(dump(t, clean), dump(t, crashing)); d != "" {
			t.Fatalf("crashes show (-clean +crashing):\n%s", d)
		}
	})
}

func wipe(t *rapid.T, l *Ledger) {
	var all []string
	for table := range tables {
		if table != "ledger" {
			all = append(all, "DELETE FROM "+table)
		}
	}
	if _, err := l.writer.ExecContext(ctx, strings.Join(all, ";")+"; UPDATE ledger SET cursor = 0"); err != nil {
		t.Fatal(err)
	}
}

// fold makes the batches of a random history of a few heaters.
func fold(t *rapid.T) []Batch {
	book := alarm.NewBook(alarm.Rules())
	var all []Batch
	now := zero
	for i := range rapid.IntRange(1, 12).Draw(t, "batches") {
		b := Batch{Cursor: int64(10 * (i + 1))}
		for range rapid.IntRange(1, 4).Draw(t, "lines") {
			now = now.Add(time.Duration(rapid.IntRange(1, 9000).Draw(t, "after")) * time.Second)
			c := stop(rapid.SampledFrom([]string{"H-07", "H-08"}).Draw(t, "heater"))
			c.Active = rapid.Bool().Draw(t, "active")
			b.Transitions = append(b.Transitions, book.Observe(now, c)...)
			if rapid.Bool().Draw(t, "answer") {
				if a, ok := book.Get(c.Key); ok {
					ts, _ := book.Answer(now, record.Answer{Act: record.Acknowledge, Alarm: a.ID, By: "x", Role: alarm.Safety})
					b.Transitions = append(b.Transitions, ts...)
				}
			}
			start := time.Duration(rapid.IntRange(0, 20).Draw(t, "start")) * time.Hour
			b.Burns = append(b.Burns, burn(c.Heater, start, start+30*time.Minute, outcome.Unknown, false))
		}
		for _, tr := range b.Transitions {
			if tr.Pages() {
				b.Jobs = append(b.Jobs, job(tr, 0, 0), job(tr, 1, time.Hour))
			}
		}
		b.Alarms = book.Touched()
		all = append(all, b)
	}
	return all
}

func BenchmarkCommit(b *testing.B) {
	l := open(b)
	batch := full()
	for b.Loop() {
		must(b, l.Commit(ctx, batch))
	}
}
