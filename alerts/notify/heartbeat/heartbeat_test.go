package heartbeat_test

import (
	"bytes"
	"context"
	"errors"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"heaterd/alerts/notify/heartbeat"
)

func TestBeatsOnlyWhileHealthy(t *testing.T) {
	var beats atomic.Int64
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { beats.Add(1) }))
	t.Cleanup(s.Close)
	ctx, cancel := context.WithCancel(t.Context())
	var log bytes.Buffer
	asked := 0
	healthy := func() error {
		switch asked++; {
		case asked > 6:
			cancel()
			return nil
		case asked > 3 && asked <= 5:
			return errors.New("the store is full")
		}
		return nil
	}
	if err := heartbeat.Run(ctx, s.URL, time.Millisecond, healthy, slog.New(slog.NewTextHandler(&log, nil))); err != nil {
		t.Fatal(err)
	}
	if n := beats.Load(); n != 4 {
		t.Errorf("%d beats, want 3 before and 1 after", n)
	}
	if strings.Count(log.String(), "no heartbeat") != 1 || strings.Count(log.String(), "sent again") != 1 {
		t.Errorf("log:\n%s", log.String())
	}
}

func TestFailureIsLoggedOnceWithoutTheAddress(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	var log bytes.Buffer
	asked := 0
	healthy := func() error {
		if asked++; asked > 4 {
			cancel()
		}
		return nil
	}
	_ = heartbeat.Run(ctx, "http://127.0.0.1:1/key", time.Millisecond, healthy, slog.New(slog.NewTextHandler(&log, nil)))
	if got := log.String(); strings.Count(got, "level=ERROR") != 1 || strings.Contains(got, "/key") {
		t.Errorf("log:\n%s", got)
	}
}
