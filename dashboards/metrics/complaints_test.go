package metrics

import (
	"context"
	"errors"
	"log/slog"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

func TestComplaintsDoNotFillTheLog(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var log strings.Builder
		c := &complaints{log: slog.New(slog.NewTextHandler(&log, nil))}
		for range 100 {
			c.Println("error encoding and sending metric family:", context.Canceled)
		}
		if log.Len() != 0 {
			t.Errorf("of an asker who is gone it said %q", log.String())
		}
		for range 3 {
			for range 100 {
				c.Println("error encoding and sending metric family:", errors.New("broken pipe"))
			}
			time.Sleep(complainEvery)
		}
		if n := strings.Count(log.String(), "broken pipe"); n != 3 {
			t.Errorf("in three minutes it said so %d times", n)
		}
	})
}
