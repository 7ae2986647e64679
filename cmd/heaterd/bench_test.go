package main

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"heaterd/alerts/fleet"
	"heaterd/config"
	"heaterd/ingest/mqtt"
	"heaterd/ingest/mqtt/mqtttest"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// The benchmarks give ratios to something simple measured in the same run, for
// the machine does other things too:
//
//	go test -run NONE -bench . -benchtime=1x ./cmd/heaterd ./ingest

// silent is a log that nobody reads.
var silent = slog.New(slog.DiscardHandler)

const (
	trials      = 100 // alarms of BenchmarkAlarm
	loadNodes   = 10_000
	loadPerSite = 100
	loadPerSec  = 1000 // messages
	senders     = 4
)

// BenchmarkAlarm is the time from a node's word that CO is above the ceiling
// to the webhook that tells it, while ten thousand other nodes send 1000
// messages a second, or as many as the broker takes from them; beside it, the
// time to a bare subscriber of the same broker.
func BenchmarkAlarm(b *testing.B) {
	b.Run("1000-a-second", func(b *testing.B) { benchAlarm(b, time.Second*senders/loadPerSec) })
	b.Run("full-load", func(b *testing.B) { benchAlarm(b, 0) })
}

// benchAlarm measures it while every sender sends a message every so often, or
// one after the other.
func benchAlarm(b *testing.B, every time.Duration) {
	m := mqtttest.StartMosquitto(b)
	hook := newTimes(regexp.MustCompile(`C-(\d+)`))
	receiver := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		body, _ := io.ReadAll(r.Body)
		hook.note(string(body))
	}))
	defer receiver.Close()
	stop := runBench(b, alarmFleet(m.URL(), receiver.URL))
	defer stop()
	bare := newTimes(regexp.MustCompile(`c-(\d+)/.*:500}`))
	c := paho.NewClient(paho.NewClientOptions().AddBroker(m.URL()).SetClientID("bare").
		SetDefaultPublishHandler(func(_ paho.Client, m paho.Message) { bare.note(string(m.Payload())) }))
	c.Connect().Wait()
	defer c.Disconnect(0)
	c.Subscribe("sites/+/nodes/+/telemetry", 1, nil).Wait()
	var sent int64
	begun := time.Now()
	for b.Loop() {
		sent += measureAlarms(b, m.URL(), every, hook, bare)
	}
	b.ReportMetric(float64(sent)/time.Since(begun).Seconds(), "msg/s")
	for name, t := range map[string]*times{"webhook": hook, "bare": bare} {
		b.ReportMetric(t.quantile(0.5).Seconds()*1e3, name+"-ms-median")
		b.ReportMetric(t.quantile(0.99).Seconds()*1e3, name+"-ms-p99")
	}
	b.ReportMetric(hook.quantile(0.5).Seconds()/bare.quantile(0.5).Seconds(), "median-ratio")
	b.ReportMetric(hook.quantile(0.99).Seconds()/bare.quantile(0.99).Seconds(), "p99-ratio")
	b.ReportMetric(float64(len(hook.took)), "alarms")
}

const (
	siteLine   = "  - { id: %s, time_zone: UTC, limits: us-niosh, activity: light, procedure: Out., spaces: [{ id: hall }] }\n"
	heaterLine = "  - { id: %s, node: %s, site: %s, space: hall }\n"
)

// alarmFleet is a site for every alarm, and others for the load.
func alarmFleet(broker, hook string) string {
	var sites, heaters strings.Builder
	for i := range trials {
		site := fmt.Sprint("s-", i)
		fmt.Fprintf(&sites, siteLine, site)
		fmt.Fprintf(&heaters, heaterLine, fmt.Sprint("C-", i), fmt.Sprint("c-", i), site)
	}
	for i := range loadNodes / loadPerSite {
		fmt.Fprintf(&sites, siteLine, fmt.Sprint("t-", i))
	}
	for i := range loadNodes {
		fmt.Fprintf(&heaters, heaterLine, fmt.Sprint("L-", i), fmt.Sprint("l-", i), fmt.Sprint("t-", i/loadPerSite))
	}
	return "version: 1\nbroker: { url: \"" + broker + "\" }\nhttp: { listen: \"127.0.0.1:0\" }\n" +
		"notify: { channels: [{ id: hook, webhook: { url: \"" + hook + "\" } }] }\n" +
		"on_call: { people: [{ id: ann, channels: [hook] }], fallback: ann }\n" +
		"sites:\n" + sites.String() + "heaters:\n" + heaters.String()
}

// runBench runs the daemon in this process.
func runBench(b *testing.B, yaml string) (stop func()) {
	b.Helper()
	path := filepath.Join(b.TempDir(), "heaterd.yaml")
	if err := os.WriteFile(path, []byte(yaml), 0o600); err != nil {
		b.Fatal(err)
	}
	cfg, err := config.Load(path, os.LookupEnv)
	if err != nil {
		b.Fatal(err)
	}
	d := &daemon{cfg: cfg, log: silent}
	ctx, cancel := context.WithCancel(context.Background())
	if err := d.open(ctx); err != nil {
		cancel()
		b.Fatal(err)
	}
	done := make(chan error, 1)
	go func() { done <- d.runAndClose(ctx) }()
	<-d.watch.Ready()
	<-d.sub.Ready()
	return func() {
		cancel()
		if err := <-done; err != nil {
			b.Error(err)
		}
	}
}

func measureAlarms(b *testing.B, url string, every time.Duration, all ...*times) (sent int64) {
	b.Helper()
	load, stop := context.WithCancel(b.Context())
	var loading sync.WaitGroup
	var count atomic.Int64
	for k := range senders {
		loading.Go(func() { count.Add(sendLoad(load, url, k, every)) })
	}
	p := mqtt.NewPublisher(mqtt.Link{URL: url, ClientID: "co", Log: silent})
	defer p.Close()
	say := func(i, co int) {
		body := fmt.Sprintf(`[{"bn":"c-%d/","n":"flame","vb":true},{"n":"co","u":"ppm","v":%d}]`, i, co)
		if err := p.Publish(b.Context(), fmt.Sprintf("sites/s-%d/nodes/c-%d/telemetry", i, i), []byte(body), false); err != nil {
			b.Error(err)
		}
	}
	for i := range trials {
		say(i, 3)
	}
	for i := range trials {
		for _, t := range all {
			t.begin(i)
		}
		say(i, 500)
		<-time.After(50 * time.Millisecond)
	}
	for _, t := range all {
		t.await(b)
	}
	stop()
	loading.Wait()
	return count.Load()
}

// sendLoad publishes as some of the load's nodes, a message every so often, and
// gives how many.
func sendLoad(ctx context.Context, url string, k int, every time.Duration) (sent int64) {
	p := mqtt.NewPublisher(mqtt.Link{URL: url, ClientID: fmt.Sprint("load-", k), Log: silent})
	defer p.Close()
	t := time.NewTicker(max(every, time.Microsecond))
	defer t.Stop()
	for i := k; ; i += senders {
		select {
		case <-t.C:
		case <-ctx.Done():
			return sent
		}
		n := i % loadNodes
		body := fmt.Sprintf(`[{"bn":"l-%d/","n":"flame","vb":true},{"n":"runtime","u":"s","v":%d},{"n":"co","u":"ppm","v":4}]`, n, i*10/loadNodes)
		if p.Publish(ctx, fmt.Sprintf("sites/t-%d/nodes/l-%d/telemetry", n/loadPerSite, n), []byte(body), false) == nil {
			sent++
		}
	}
}

// times are how long each of the trials took to be noted.
type times struct {
	in    *regexp.Regexp // finds the trial's number
	mu    sync.Mutex
	since map[int]time.Time
	took  []time.Duration
}

func newTimes(in *regexp.Regexp) *times { return &times{in: in, since: map[int]time.Time{}} }

func (t *times) begin(i int) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.since[i] = time.Now()
}

func (t *times) note(text string) {
	found := t.in.FindStringSubmatch(text)
	if found == nil {
		return
	}
	i, _ := strconv.Atoi(found[1])
	t.mu.Lock()
	defer t.mu.Unlock()
	if start, ok := t.since[i]; ok {
		t.took = append(t.took, time.Since(start))
		delete(t.since, i)
	}
}

// await waits until every trial was noted.
func (t *times) await(b *testing.B) {
	b.Helper()
	for end := time.Now().Add(30 * time.Second); ; <-time.After(10 * time.Millisecond) {
		t.mu.Lock()
		left := len(t.since)
		t.mu.Unlock()
		if left == 0 {
			return
		}
		if time.Now().After(end) {
			b.Fatalf("%d of %d never came", left, trials)
		}
	}
}

func (t *times) quantile(q float64) time.Duration {
	t.mu.Lock()
	defer t.mu.Unlock()
	s := slices.Sorted(slices.Values(t.took))
	return s[int(q*float64(len(s)-1))]
}

// bigFleet is n heaters, a hundred to a site.
func bigFleet(n int) (f fleet.Fleet) {
	const perSite = 100
	for i := range n {
		if i%perSite == 0 {
			f.Sites = append(f.Sites, fleet.Site{ID: fmt.Sprint("s-", i/perSite), Zone: time.UTC, Spaces: []fleet.Space{{ID: "hall"}}})
		}
		id := strconv.Itoa(i)
		f.Heaters = append(f.Heaters, fleet.Heater{ID: "H-" + id, Node: reading.NodeID("n-" + id), Site: fmt.Sprint("s-", i/perSite), Space: "hall"})
	}
	return f
}

// bigLoad calls f with rounds of a reading of every node, every 30 s.
func bigLoad(n, rounds int, f func([]record.Line)) {
	start := reading.InstantOf(time.Date(2026, 1, 12, 6, 0, 0, 0, time.UTC))
	for r := range rounds {
		at := start.Add(time.Duration(r) * 30 * time.Second)
		lines := make([]record.Line, 0, n)
		for i := range n {
			x := reading.Sample{At: at, Has: reading.Flame | reading.Runtime | reading.CO | reading.Temp, CO: 4, Temp: 15, Runtime: float64(30 * r)}
			if (r+i)%20 < 14 {
				x.On = reading.Flame
			}
			lines = append(lines, record.Line{At: at.Add(time.Second),
				Pack: &reading.Pack{Node: reading.NodeID("n-" + strconv.Itoa(i)), Samples: []reading.Sample{x}}})
		}
		f(lines)
	}
}

// endOfLog ends the loop once it has read everything.
type endOfLog struct{ stop context.CancelFunc }

func (e endOfLog) Await(ctx context.Context, _ int64) (int64, error) { e.stop(); return 0, ctx.Err() }
