package main

import (
	"errors"
	"testing"
	"time"
)

// TestACalendarThatStaysUnreadIsUnwell: a server that is away for a while wakes
// nobody, one that stays away is a word of health.
func TestACalendarThatStaysUnreadIsUnwell(t *testing.T) {
	var w rotaWord
	at := time.Date(2026, 1, 12, 6, 0, 0, 0, time.UTC)
	bad := errors.New("answered 503")
	for _, look := range []struct {
		after  time.Duration
		err    error
		unwell bool
	}{
		{0, nil, false}, {time.Hour, bad, false}, {2 * time.Hour, bad, false}, {3 * time.Hour, bad, true},
		{4 * time.Hour, nil, false}, {5 * time.Hour, bad, false},
	} {
		w.says(look.err, at.Add(look.after))
		if err := w.healthy(at.Add(look.after)); (err != nil) != look.unwell || err != nil && !errors.Is(err, bad) {
			t.Errorf("after %v: %v", look.after, err)
		}
	}
}
