package dashboards_test

import (
	"context"
	"errors"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"heaterd/alerts/fold"
	"heaterd/dashboards"
)

// TestEvents listens to the stream for a while: one event at the start, one
// for changes close together, a comment while nothing happens, and an end.
func TestEvents(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var line atomic.Int64
		line.Store(7)
		h := dashboards.New(dashboards.Options{View: func() fold.View { return fold.View{} }, Changed: line.Load})
		ctx, cancel := context.WithCancel(t.Context())
		r := newRequest("GET", "/events").WithContext(ctx)
		rec := httptest.NewRecorder()
		done := make(chan struct{})
		go func() { defer close(done); h.ServeHTTP(rec, r) }()
		time.Sleep(3 * time.Second)
		line.Add(1)
		line.Add(1)
		time.Sleep(15 * time.Second)
		cancel()
		<-done
		want := "retry: 5000\nid: 7\nevent: at\ndata: 7\n\nid: 9\nevent: at\ndata: 9\n\nevent: beat\ndata:\n\n"
		if got := rec.Body.String(); got != want {
			t.Errorf("the stream is\n%q, want\n%q", got, want)
		}
		if got := rec.Header().Get("Content-Type"); got != "text/event-stream" || rec.Header().Get("X-Accel-Buffering") != "no" {
			t.Errorf("headers %v", rec.Header())
		}
	})
}

func TestEventsEnd(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := dashboards.New(dashboards.Options{View: func() fold.View { return fold.View{} }, Changed: func() int64 { return 1 }})
		rec := httptest.NewRecorder()
		begin := time.Now()
		h.ServeHTTP(rec, newRequest("GET", "/events"))
		if took := time.Since(begin); took != 10*time.Minute {
			t.Errorf("a stream that nobody closes ends after %s", took)
		}
		if n := strings.Count(rec.Body.String(), "event: beat"); n < 30 {
			t.Errorf("%d beats in ten minutes", n)
		}
	})
}

// Why a check fails names hosts and paths: strangers need not know them.
func TestReadinessTellsStrangersNotWhy(t *testing.T) {
	failing := []dashboards.Check{{Name: "store"}, {Name: "broker", Err: errors.New("cannot connect to tls://broker.example.org:8883")}}
	w := newWorld(t, withUsers(t), func(o *dashboards.Options) { o.Checks = func() []dashboards.Check { return failing } })
	rec := w.do("GET", "/readyz", nil)
	if rec.Code != 503 || strings.Contains(rec.Body.String(), "example.org") {
		t.Errorf("a stranger: %d %s", rec.Code, rec.Body)
	}
	has(t, rec.Body.String(), `"name": "broker"`, `"ok": false`)
	rec = w.do("GET", "/readyz", nil, "Authorization", "Bearer secret-viewer")
	has(t, rec.Body.String(), "broker.example.org")
}

// TestEventsEndWithTheSession: a page whose session ended gets the sign-in in
// place of its parts, so beats must not tell it that it is up to date.
func TestEventsEndWithTheSession(t *testing.T) {
	change := withUsers(t)
	synctest.Test(t, func(t *testing.T) {
		o := dashboards.Options{View: func() fold.View { return fold.View{} }, Changed: func() int64 { return 1 }, LinkSecret: []byte("a secret of the test, 32 bytes.."), Now: time.Now}
		change(&o)
		h := dashboards.New(o)
		sign := newRequest("POST", "/login?name=user-viewer&password=correct+horse")
		signed := httptest.NewRecorder()
		h.ServeHTTP(signed, sign)
		r := newRequest("GET", "/events")
		for _, c := range signed.Result().Cookies() {
			r.AddCookie(c)
		}
		time.Sleep(12*time.Hour - time.Minute)
		begin := time.Now()
		rec := httptest.NewRecorder()
		h.ServeHTTP(rec, r)
		if took := time.Since(begin); rec.Code != 200 || took != time.Minute {
			t.Errorf("status %d, the stream ends after %s, want with the session after a minute", rec.Code, took)
		}
	})
}

func TestReadiness(t *testing.T) {
	var checks []dashboards.Check
	w := newWorld(t, func(o *dashboards.Options) { o.Checks = func() []dashboards.Check { return checks } })
	checks = []dashboards.Check{{Name: "store"}, {Name: "broker"}}
	if rec := w.do("GET", "/readyz", nil); rec.Code != 200 {
		t.Errorf("all well: %d", rec.Code)
	}
	checks[1].Err = context.DeadlineExceeded
	rec := w.do("GET", "/readyz", nil)
	if rec.Code != 503 {
		t.Errorf("one check fails: %d", rec.Code)
	}
	has(t, rec.Body.String(), `"name": "broker"`, "deadline exceeded")
	if rec := w.do("GET", "/livez", nil); rec.Code != 200 || rec.Body.String() != "ok\n" {
		t.Errorf("alive: %d %q", rec.Code, rec.Body)
	}
}

// TestNobodyReachedIsSaid: that no channel works at all reads otherwise than that
// one of several does not.
func TestNobodyReachedIsSaid(t *testing.T) {
	for want, err := range map[string]error{
		"A channel for messages about alarms does not work: others are used where there are any.": errors.New("channel mail is down"),
		"No message about an alarm gets through to anybody on call: watch this page, and call":    errors.Join(dashboards.ErrNobodyReached, errors.New("channel mail is down")),
	} {
		w := newWorld(t, func(o *dashboards.Options) {
			o.Checks = func() []dashboards.Check { return []dashboards.Check{{Name: "channels", Err: err}} }
		})
		has(t, w.page(t, "/"), want)
	}
}
