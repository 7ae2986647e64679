package history

import (
	"compress/gzip"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"heaterd/ingest/mqtt/mqtttest"
	"heaterd/ingest/reading"
)

// write sends one record to a server through the real client.
func write(t *testing.T, url string) error {
	t.Helper()
	o := Options{URL: url, Org: "works", Bucket: "heat", Token: []byte("secret")}
	server, done := connect(&o)
	defer done()
	return server.WriteRecord(t.Context(), "reading,node=n co_ppm=1 1768210200123", "reading,node=m co_ppm=2 1768210200123")
}

func TestWritesAreAsTheServerWantsThem(t *testing.T) {
	var seen *http.Request
	var body string
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		seen = r.Clone(context.Background())
		z, err := gzip.NewReader(r.Body)
		if err == nil {
			b, _ := io.ReadAll(z)
			body = string(b)
		}
		w.WriteHeader(204)
	}))
	defer s.Close()
	if err := write(t, s.URL); err != nil {
		t.Fatal(err)
	}
	q := seen.URL.Query()
	if seen.Method != "POST" || seen.URL.Path != "/api/v2/write" || q.Get("org") != "works" || q.Get("bucket") != "heat" || q.Get("precision") != "ms" {
		t.Errorf("%s %s", seen.Method, seen.URL)
	}
	if got := seen.Header.Get("Authorization"); got != "Token secret" {
		t.Errorf("authorised by %q", got)
	}
	if strings.Count(body, "\n") != 1 || !strings.HasPrefix(body, "reading,node=n ") {
		t.Errorf("body %q", body)
	}
}

func TestAnswersAreJudgedByTheirStatus(t *testing.T) {
	cases := []struct {
		code   int
		header string
		want   verdict
		wait   time.Duration
	}{
		{204, "", taken, 0}, {200, "", again, 0}, {201, "", again, 0},
		{307, "", closed, 0}, {302, "", closed, 0}, {400, "", poison, 0}, {401, "", closed, 0}, {403, "", closed, 0},
		{404, "", closed, 0}, {408, "", again, 0}, {413, "", smaller, 0}, {422, "", poison, 0},
		{429, "7", again, 7 * time.Second}, {500, "", again, 0}, {502, "", again, 0}, {503, "60", again, time.Minute},
		{503, "soon", again, 0}, {503, "-1", again, 0},
	}
	for _, c := range cases {
		s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Location", "/elsewhere")
			if c.header != "" {
				w.Header().Set("Retry-After", c.header)
			}
			w.Header().Set("Content-Type", "application/json")
			w.WriteHeader(c.code)
			if c.code != 204 {
				_, _ = io.WriteString(w, `{"code":"some","message":"reason"}`)
			}
		}))
		v, wait := judge(write(t, s.URL), time.Now())
		if v != c.want || wait != c.wait {
			t.Errorf("%d: verdict %d after %v, want %d after %v", c.code, v, wait, c.want, c.wait)
		}
		s.Close()
	}
}

func TestNobodyThereIsTriedAgain(t *testing.T) {
	s := httptest.NewServer(nil)
	s.Close()
	if v, _ := judge(write(t, s.URL), time.Now()); v != again {
		t.Errorf("verdict %d", v)
	}
}

// victoria starts a VictoriaMetrics server, which takes InfluxDB v2 writes,
// and gives its address.
func victoria(t *testing.T) string {
	t.Helper()
	program, err := exec.LookPath("victoria-metrics")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("victoria-metrics is needed here")
		}
		t.Skip("victoria-metrics is not installed")
	}
	address := mqtttest.FreeAddr(t)
	cmd := exec.Command(program, "-storageDataPath="+t.TempDir(), "-httpListenAddr="+address,
		"-retentionPeriod=100y", "-memory.allowedBytes=67108864") // readings of any year are kept
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = cmd.Process.Kill(); _ = cmd.Wait() })
	base := "http://" + address
	eventually(t, func() bool {
		r, err := http.Get(base + "/health")
		if err == nil {
			_ = r.Body.Close()
		}
		return err == nil && r.StatusCode == http.StatusOK
	})
	return base
}

// eventually waits for what another process does.
func eventually(t *testing.T, ok func() bool) {
	t.Helper()
	tick := time.NewTicker(50 * time.Millisecond)
	defer tick.Stop()
	for deadline := time.Now().Add(20 * time.Second); time.Now().Before(deadline); <-tick.C {
		if ok() {
			return
		}
	}
	t.Fatal("it did not come about in 20 s")
}

// exported reads a field back: times in ms to values.
func exported(t *testing.T, base, metric string) map[int64]float64 {
	t.Helper()
	_, _ = http.Get(base + "/internal/force_flush")
	r, err := http.Get(base + "/api/v1/export?match[]=" + url.QueryEscape(metric))
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	out := map[int64]float64{}
	for lines := json.NewDecoder(r.Body); lines.More(); {
		var series struct {
			Values     []float64
			Timestamps []int64
		}
		if err := lines.Decode(&series); err != nil {
			t.Fatal(err)
		}
		for i, at := range series.Timestamps {
			out[at] = series.Values[i]
		}
	}
	return out
}

func TestARealServerHasWhatTheLogHas(t *testing.T) {
	base := victoria(t)
	s := &shelf{}
	began := time.Date(2026, 1, 12, 6, 0, 0, 0, time.UTC)
	const n = 7000 // more than one write
	for i := range n {
		s.add("n-07", began.Add(time.Duration(i)*30*time.Second))
	}
	w := New(Options{URL: base, Org: "works", Bucket: "heat", Log: s, Memory: s, Places: func(context.Context) (Places, error) {
		return func(reading.NodeID, reading.Instant) Place { return Place{"quay", "hall", "H-07"} }, nil
	}})
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan error)
	go func() { done <- w.Run(ctx) }()
	eventually(t, func() bool { return w.Cursor() == n })
	stop()
	if err := <-done; err != nil || s.cursor != n {
		t.Fatalf("%v, cursor kept at %d", err, s.cursor)
	}
	for field, want := range map[string]float64{"co_ppm": 12.5, "temp_celsius": 8, "flame": 1} {
		var got map[int64]float64
		eventually(t, func() bool {
			got = exported(t, base, fmt.Sprintf(`reading_%s{site="quay",space="hall",heater="H-07",node="n-07"}`, field))
			return len(got) >= n
		})
		for i := range n {
			at := began.Add(time.Duration(i) * 30 * time.Second).UnixMilli()
			if got[at] != want {
				t.Fatalf("%s at %d is %v, want %v", field, at, got[at], want)
			}
		}
	}
}
