package channels_test

import (
	"context"
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	standardwebhooks "github.com/standard-webhooks/standard-webhooks/libraries/go"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fleet"
	"heaterd/alerts/ledger"
	"heaterd/alerts/notify"
	"heaterd/alerts/notify/channels"
	"heaterd/ingest/reading"
	"heaterd/ingest/store"
)

const key = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"

// honest is a receiver that verifies signatures and honours the key against
// repetition.
type honest struct {
	t        *testing.T
	verifier *standardwebhooks.Webhook
	mu       sync.Mutex
	seen     map[string]int
	stages   []string
	refuse   int // requests to refuse first
	all      chan struct{}
}

func (h *honest) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	body, _ := io.ReadAll(r.Body)
	if err := h.verifier.Verify(body, r.Header); err != nil {
		h.t.Error(err)
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.refuse--; h.refuse >= 0 {
		w.Header().Set("Retry-After", "1")
		w.WriteHeader(http.StatusServiceUnavailable)
		return
	}
	var e struct{ Type string }
	_ = json.Unmarshal(body, &e)
	id := r.Header.Get("webhook-id")
	if h.seen[id]++; h.seen[id] == 1 {
		h.stages = append(h.stages, e.Type)
		h.all <- struct{}{}
	}
}

// From a change of an alarm to a receiver over HTTP, through the outbox.
func TestAlarmReachesAReceiver(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	st, err := store.Open(ctx, filepath.Join(t.TempDir(), "heaterd.db"), slog.New(slog.DiscardHandler), ledger.Migrations)
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	verifier, _ := standardwebhooks.NewWebhook(key)
	h := &honest{t: t, verifier: verifier, seen: map[string]int{}, refuse: 1, all: make(chan struct{}, 16)}
	server := httptest.NewServer(h)
	defer server.Close()
	s := notify.Settings{Channels: []notify.Channel{{ID: "log", Kind: notify.Webhook, URL: server.URL, Secret: []byte(key)}}}
	senders, err := channels.Open(s, nil)
	if err != nil {
		t.Fatal(err)
	}
	l, p := ledger.New(st), notify.New(s, fleet.Fleet{}, nil)
	c := notify.NewCourier(notify.Options{Planner: p, Outbox: l, Senders: senders, Logger: slog.New(slog.DiscardHandler)})
	over := make(chan struct{})
	go func() { defer close(over); _ = c.Run(ctx) }()
	defer func() { cancel(); <-over }()
	for _, change := range changes() {
		b := ledger.Batch{Transitions: []alarm.Transition{change}, Jobs: p.Plan(change)}
		if err := l.Commit(ctx, b); err != nil {
			t.Fatal(err)
		}
		c.Wake()
		await(t, h.all)
	}
	if _, err := c.Test(ctx, "log", ""); err != nil {
		t.Error(err)
	}
	await(t, h.all)
	if want := "heaterd.raised heaterd.ended heaterd.test"; strings.Join(h.stages, " ") != want {
		t.Errorf("received %q, want %q", strings.Join(h.stages, " "), want)
	}
}

func changes() []alarm.Transition {
	now := reading.InstantOf(time.Now())
	up := alarm.Transition{
		At: now, From: alarm.Normal, To: alarm.Unacknowledged, Event: alarm.Raise,
		Alarm: alarm.Alarm{ID: "H-07.space-cold.1", Key: alarm.Key{Kind: alarm.SpaceCold, Site: "quay"}, Seq: 1, State: alarm.Unacknowledged, Priority: alarm.Medium, Since: now},
	}
	down := up
	down.From, down.To, down.Event, down.Alarm.Seq, down.Alarm.State = alarm.Unacknowledged, alarm.Returned, alarm.Clear, 2, alarm.Returned
	return []alarm.Transition{up, down}
}

func await(t *testing.T, arrived <-chan struct{}) {
	t.Helper()
	select {
	case <-arrived:
	case <-time.After(20 * time.Second):
		t.Fatal("nothing arrived")
	}
}
