package main

import (
	"compress/gzip"
	"context"
	"io"
	"net/http"
	"net/http/httptest"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"heaterd/config"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/store"
)

// records copies the log to a server of its own until nothing waits, and gives
// the records that came.
func (d *daemon) records(t *testing.T) map[string]bool {
	t.Helper()
	var mu sync.Mutex
	got := map[string]bool{}
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		z, err := gzip.NewReader(r.Body)
		if err != nil {
			t.Error(err)
			return
		}
		body, _ := io.ReadAll(z)
		mu.Lock()
		defer mu.Unlock()
		for record := range strings.Lines(string(body)) {
			got[strings.TrimSpace(record)] = true
		}
		w.WriteHeader(http.StatusNoContent)
	}))
	defer server.Close()
	d.cfg.History = &config.Influx{URL: server.URL, Org: "o", Bucket: "b", Token: []byte("t")}
	if err := d.openHistory(t.Context()); err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan error)
	go func() { done <- d.history.Run(ctx) }()
	for d.history.Stats().LagRows > 0 && t.Context().Err() == nil {
		runtime.Gosched()
	}
	stop()
	if err := <-done; err != nil {
		t.Error(err)
	}
	return got
}

// A copy that begins when most of the log has given way gets all of it.
func TestTheCopyGetsWhatTheLogGaveUp(t *testing.T) {
	d, _ := careDaemon(t)
	if err := d.tend(t.Context(), 0); err != nil {
		t.Fatal(err)
	}
	if got := d.records(t); len(got) != 72*12 {
		t.Errorf("%d records arrived, want %d", len(got), 72*12)
	}
}

// A unit was fitted elsewhere before the copy begins: what it measured before
// is the other heater's, whether it came then, is in the hours, or comes late.
func TestTheCopyKnowsWhereAUnitWas(t *testing.T) {
	d, now := careDaemon(t)
	late := &reading.Pack{Node: "n-0", Samples: []reading.Sample{
		{At: now.Add(-7 * time.Second), Has: reading.CO, CO: 8}, {At: now.Add(7 * time.Second), Has: reading.CO, CO: 9}}}
	if _, err := d.store.Keep(t.Context(), store.Batch{Lines: []record.Line{
		{At: now, Entry: &record.Entry{Heater: "H-1", Task: "fit-node", Node: "n-0"}},
		{At: now.Add(10 * time.Second), Pack: late},
	}}); err != nil {
		t.Fatal(err)
	}
	d.follow(t, 2)
	if err := d.tend(t.Context(), 0); err != nil {
		t.Fatal(err)
	}
	on := map[string]int{}
	for record := range d.records(t) {
		tags, _, _ := strings.Cut(record, ",node")
		on[tags]++
	}
	if want := 72*12 + 1; len(on) != 2 || on["reading,heater=H-0"] != want || on["reading,heater=H-1"] != 1 {
		t.Errorf("records by heater %v, want %d of H-0 and 1 of H-1", on, want)
	}
}
