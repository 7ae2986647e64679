package ledger

import (
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"heaterd/ingest/record"
)

func TestEntries(t *testing.T) {
	l := open(t)
	meter := 412.5
	e := EntryRow{Line: 5, At: zero, Entry: record.Entry{Heater: "H-07", Task: "filter", By: "x", Note: "wet", MeterH: &meter}}
	must(t, l.Commit(ctx, Batch{Entries: []EntryRow{e}}))
	must(t, l.Commit(ctx, Batch{Entries: []EntryRow{e, {Line: 6, At: at(time.Hour), Entry: record.Entry{Heater: "H-08", Task: "refuel"}}}}))
	got, err := l.Entries(ctx, "H-07", 0, at(time.Minute))
	must(t, err)
	if d := cmp.Diff([]EntryRow{e}, got); d != "" {
		t.Errorf("entries (-want +got):\n%s", d)
	}
	for _, c := range []struct {
		heater string
		before int64
		limit  int
		want   []int64
	}{{"", 0, 9, []int64{6, 5}}, {"", 0, 1, []int64{6}}, {"", 6, 9, []int64{5}}, {"H-07", 0, 9, []int64{5}}, {"H-07", 5, 9, nil}} {
		rows, err := l.EntriesBefore(ctx, c.heater, c.before, c.limit)
		must(t, err)
		var lines []int64
		for _, r := range rows {
			lines = append(lines, r.Line)
		}
		if !slices.Equal(lines, c.want) {
			t.Errorf("%+v: lines %v", c, lines)
		}
	}
}

// The lines that are asked for are read in the order asked.
func TestEntriesOfLines(t *testing.T) {
	l := open(t)
	var b Batch
	for line := int64(5); line < 10; line++ {
		b.Entries = append(b.Entries, EntryRow{Line: line, At: zero, Entry: record.Entry{Heater: "H-07", Task: "filter"}})
	}
	b.Withdrawals = []WithdrawalRow{{7, Withdrawal{At: at(time.Hour), Why: "the heater beside it"}}}
	must(t, l.Commit(ctx, b))
	these, err := l.EntriesAt(ctx, []int64{9, 4, 7, 5})
	must(t, err)
	if len(these) != 3 || these[0].Line != 9 || these[1].Line != 7 || these[2].Line != 5 || these[1].Withdrawn == nil || these[0].Withdrawn != nil {
		t.Errorf("lines 9, 4, 7, 5: %+v", these)
	}
	if none, err := l.EntriesAt(ctx, nil); err != nil || len(none) > 0 {
		t.Errorf("of no lines: %+v, %v", none, err)
	}
}

// A withdrawal marks its entry and leaves its row as it was; the first stands.
func TestWithdrawnEntries(t *testing.T) {
	l := open(t)
	e := EntryRow{Line: 5, At: zero, Entry: record.Entry{Heater: "H-07", Task: "filter"}}
	d := WithdrawalRow{5, Withdrawal{At: at(time.Hour), By: "x", Why: "the heater beside it"}}
	must(t, l.Commit(ctx, Batch{Entries: []EntryRow{e, {Line: 6, At: zero, Entry: e.Entry}}}))
	must(t, l.Commit(ctx, Batch{Withdrawals: []WithdrawalRow{d}}))
	must(t, l.Commit(ctx, Batch{Entries: []EntryRow{e}, Withdrawals: []WithdrawalRow{d}}))
	got, err := l.Entries(ctx, "H-07", 0, 0)
	must(t, err)
	want := e
	want.Withdrawn = &d.Withdrawal
	if d := cmp.Diff([]EntryRow{want, {Line: 6, At: zero, Entry: e.Entry}}, got); d != "" {
		t.Errorf("entries (-want +got):\n%s", d)
	}
	if one, ok, err := l.Entry(ctx, 5); err != nil || !ok || one.Withdrawn == nil {
		t.Errorf("the one: %+v, %v, %v", one, ok, err)
	}
	if _, ok, err := l.Entry(ctx, 4); err != nil || ok {
		t.Errorf("one that is not there: %v, %v", ok, err)
	}
}

// What is known of a line for the index is what the whole line says.
func TestDoneAfter(t *testing.T) {
	l := open(t)
	entry := record.Entry{Heater: "H-07", Task: "filter", Note: `says "done_at" and "from"`}
	before := entry
	before.Done = at(-time.Hour)
	rows := []EntryRow{
		{Line: 5, At: zero, Entry: entry}, {Line: 6, At: zero, Entry: before},
		{Line: 7, At: zero, From: at(-time.Minute), Until: at(time.Hour), Entry: record.Entry{Heater: "H-08", Task: record.StopTask}},
		{Line: 8, At: zero, From: at(time.Minute), Until: at(time.Hour), Entry: record.Entry{Heater: "H-08", Task: record.StopTask}},
		{Line: 9, At: at(time.Hour), Entry: record.Entry{Heater: "H-08", Task: "refuel"}},
	}
	must(t, l.Commit(ctx, Batch{Entries: rows}))
	var want []Done
	for _, r := range rows {
		want = append(want, Done{r.Line, r.Entry.Heater, r.When()})
	}
	for after, want := range map[int64][]Done{0: want[:3], 5: want[1:4], 8: want[4:], 9: nil} {
		got, err := l.DoneAfter(ctx, after, 3)
		if d := cmp.Diff(want, got); err != nil || d != "" {
			t.Errorf("after line %d (-want +got): %v\n%s", after, err, d)
		}
	}
}
