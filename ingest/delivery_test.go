package ingest_test

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"heaterd/ingest"
	"heaterd/ingest/broker"
	"heaterd/ingest/mqtt"
	"heaterd/ingest/mqtt/mqtttest"
	"heaterd/ingest/record"
	"heaterd/ingest/store"
)

const patience = 30 * time.Second

// daemon is a subscriber, the loop and a store.
type daemon struct {
	t       testing.TB
	path    string
	network *mqtttest.Network // to its broker
	store   *store.Store
	sub     *mqtt.Subscriber
	loop    *ingest.Ingest
	end     func()
}

func run(t testing.TB, url, path string) *daemon {
	t.Helper()
	d := &daemon{t: t, path: path, network: mqtttest.StartNetwork(t, strings.TrimPrefix(url, "tcp://"))}
	var err error
	if d.store, err = store.Open(t.Context(), path, quiet); err != nil {
		t.Fatal(err)
	}
	d.sub = mqtt.New(mqtt.Options{Link: mqtt.Link{URL: d.network.URL(), ClientID: "heaterd", Log: quiet}, Filters: []string{"nodes/+"}})
	d.loop = ingest.New(ingest.Options{Messages: d.sub.Messages(), Decoder: numbered{}, Log: d.store, Logger: quiet})
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 2)
	go func() { done <- d.sub.Run(ctx) }()
	go func() { done <- d.loop.Run(ctx) }()
	ended := false
	d.end = func() {
		if ended {
			return
		}
		ended = true
		cancel()
		if err := errors.Join(<-done, <-done, d.store.Close()); err != nil {
			t.Error(err)
		}
	}
	t.Cleanup(func() { d.end() })
	eventually(t, "ready", func() bool { return d.sub.Connected() })
	return d
}

// again reports whether it is connected once more after the first time.
func (d *daemon) again() bool { return d.network.Made() > 1 && d.sub.Connected() }

func eventually(t testing.TB, what string, ok func() bool) {
	t.Helper()
	for start := time.Now(); !ok(); <-time.After(10 * time.Millisecond) {
		if time.Since(start) > patience {
			t.Fatal("never: ", what)
		}
	}
}

// kept gives the distinct values in the log, sorted.
func (d *daemon) kept() []int {
	lines, err := d.store.Lines(d.t.Context(), 0, 1e6)
	if err != nil {
		d.t.Fatal(err)
	}
	all := values(lines)
	slices.Sort(all)
	return slices.Compact(all)
}

func (d *daemon) wantKept(n int) {
	d.t.Helper()
	eventually(d.t, fmt.Sprintf("%d kept", n), func() bool { return len(d.kept()) >= n })
	if !slices.Equal(d.kept(), sequence(0, n)) {
		d.t.Errorf("kept %v", d.kept())
	}
}

func publish(t testing.TB, url string, from, to int) {
	t.Helper()
	p := mqtt.NewPublisher(mqtt.Link{URL: url, ClientID: fmt.Sprint("node-", from), Log: quiet})
	defer p.Close()
	for i := from; i < to; i++ {
		if err := p.Publish(t.Context(), "nodes/n-1", fmt.Append(nil, i), false); err != nil {
			t.Fatal(err)
		}
	}
}

func brokers(t *testing.T, test func(t *testing.T, url string)) {
	t.Run("mosquitto", func(t *testing.T) { test(t, mqtttest.StartMosquitto(t).URL()) })
	t.Run("embedded", func(t *testing.T) {
		b, err := broker.Start(t.Context(), broker.Options{Dir: t.TempDir(), Log: quiet})
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = b.Close(context.Background()) })
		test(t, b.URL())
	})
}

func TestNoLossOverStopsAndCuts(t *testing.T) {
	brokers(t, func(t *testing.T, url string) {
		path := filepath.Join(t.TempDir(), "h.db")
		d := run(t, url, path)
		publishing := make(chan struct{})
		go func() { defer close(publishing); publish(t, url, 0, 3000) }()
		eventually(t, "the first", func() bool { return len(d.kept()) > 300 })
		d.network.Cut()
		eventually(t, "more", func() bool { return d.again() && len(d.kept()) > 1000 })
		d.end()
		d = run(t, url, path)
		<-publishing
		d.wantKept(3000)
	})
}

// Whatever keeps the store from writing, nothing is acknowledged and, once it
// is over, nothing is missing.
func TestNoLossOverStoreFaults(t *testing.T) {
	faults := map[string]func(t *testing.T, d *daemon) (over func()){
		"full disk": func(t *testing.T, d *daemon) func() {
			var pages int
			if err := d.store.Writer().QueryRow("PRAGMA page_count").Scan(&pages); err != nil {
				t.Fatal(err)
			}
			pragma(t, d, fmt.Sprintf("max_page_count = %d", pages+1))
			return func() { pragma(t, d, "max_page_count = 1000000000") }
		},
		"read-only": func(t *testing.T, d *daemon) func() {
			pragma(t, d, "query_only = 1")
			return func() { pragma(t, d, "query_only = 0") }
		},
		"locked": func(t *testing.T, d *daemon) func() {
			other, err := sql.Open("sqlite", "file:"+d.path+"?_txlock=immediate")
			if err != nil {
				t.Fatal(err)
			}
			tx, err := other.Begin()
			if err != nil {
				t.Fatal(err)
			}
			return func() { _ = tx.Rollback(); _ = other.Close() }
		},
	}
	for name, fault := range faults {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			url := mqtttest.StartMosquitto(t).URL()
			d := run(t, url, filepath.Join(t.TempDir(), "h.db"))
			publish(t, url, 0, 50)
			d.wantKept(50)
			over := fault(t, d)
			publish(t, url, 50, 1500)
			eventually(t, "unhealthy", func() bool { return errors.Is(d.loop.Healthy(), store.ErrUnavailable) })
			t.Log(d.loop.Healthy())
			stuck := len(d.kept())
			d.network.Cut() // the broker still has what was not acknowledged
			eventually(t, "connected again", d.again)
			over()
			d.wantKept(1500)
			if stuck > 1000 {
				t.Errorf("%d kept in spite of the fault", stuck)
			}
			eventually(t, "healthy", func() bool { return d.loop.Healthy() == nil })
		})
	}
}

func pragma(t *testing.T, d *daemon, p string) {
	t.Helper()
	if _, err := d.store.Writer().Exec("PRAGMA " + p); err != nil {
		t.Fatal(err)
	}
}

func TestMosquittoKilledMidStream(t *testing.T) {
	m := mqtttest.StartMosquitto(t)
	d := run(t, m.URL(), filepath.Join(t.TempDir(), "h.db"))
	publish(t, m.URL(), 0, 200)
	d.wantKept(200)
	m.Kill()
	m.Start()
	eventually(t, "connected again", d.again)
	publish(t, m.URL(), 200, 400)
	d.wantKept(400)
}

// A line of a person's that the store cannot take fails alone.
func TestALineThatCannotBeKeptHarmsNoOther(t *testing.T) {
	m := mqtttest.StartMosquitto(t)
	d := run(t, m.URL(), filepath.Join(t.TempDir(), "h.db"))
	nan := math.NaN() // has no JSON
	publishing := make(chan struct{})
	go func() { defer close(publishing); publish(t, m.URL(), 0, 500) }()
	for range 20 {
		if _, err := d.loop.Record(t.Context(), record.Line{Entry: &record.Entry{MeterH: &nan}}); err == nil {
			t.Error("kept")
		}
		if err := d.loop.Healthy(); err != nil {
			t.Error(err)
		}
	}
	<-publishing
	d.wantKept(500)
	if id, err := d.loop.Record(t.Context(), record.Line{Entry: &record.Entry{Heater: "H-1"}}); err != nil || id == 0 {
		t.Errorf("a good one: %d, %v", id, err)
	}
}

func TestRememberFilters(t *testing.T) {
	s, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "h.db"), quiet)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	for _, step := range []struct{ filters, before []string }{
		{[]string{"b", "a"}, nil}, {[]string{"a"}, []string{"a", "b"}}, {[]string{"c"}, []string{"a", "b"}}, {nil, []string{"a", "b", "c"}},
	} {
		before, err := ingest.RememberFilters(t.Context(), s, "heaterd", step.filters)
		if err != nil || !slices.Equal(before, step.before) {
			t.Errorf("before %v: %v, %v", step.filters, before, err)
		}
	}
	if before, err := ingest.RememberFilters(t.Context(), s, "other", nil); err != nil || before != nil {
		t.Errorf("another client: %v, %v", before, err)
	}
}
