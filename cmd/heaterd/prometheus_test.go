package main

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/notify/webhook"
	"heaterd/ingest/mqtt"
	"heaterd/ingest/mqtt/mqtttest"
)

// What the heaters of BenchmarkSameRuleInPrometheus do.
const (
	sameHeaters = 200
	samePerSite = 20
	sameEvery   = 5 * time.Second // between two readings of a heater
	sameSpikes  = 10              // of each sort: lasting, and brief
	sameGap     = 6 * time.Second // between two of them
	sameLasting = 9               // readings, longer than the slowest way takes; a brief one is a single reading
)

// BenchmarkSameRuleInPrometheus compares three ways to tell people that CO is
// at the ceiling of 200 ppm, by the same messages of the same broker at the
// same time: heaterd, and a Prometheus that scrapes an exporter and evaluates
// co_ppm >= 200 every second, and another that does so every 15 s. Measured
// are the time from publishing to the webhook, or to the Alertmanager, which
// would then wait and send in its own time; how many were noticed at all; and
// the processor time of each way in those minutes. It is one run of about
// three minutes, whatever -benchtime says.
func BenchmarkSameRuleInPrometheus(b *testing.B) {
	program := prometheusProgram(b)
	m := mqtttest.StartMosquitto(b)
	ways := []*way{
		byHeaterd(b, m.URL()),
		byPrometheus(b, program, m.URL(), time.Second),
		byPrometheus(b, program, m.URL(), 15*time.Second),
	}
	f := newSpikes(b, m.URL(), ways)
	f.publishAll()
	for _, w := range ways {
		w.ready()
	}
	f.run()
	for _, w := range ways {
		w.report(b, f.took)
	}
	b.ReportMetric(0, "ns/op") // it is the length of the run
}

func prometheusProgram(b *testing.B) string {
	b.Helper()
	path, err := exec.LookPath("prometheus")
	switch {
	case err == nil:
	case os.Getenv("CI") == "true":
		b.Fatal("prometheus is needed here")
	default:
		b.Skip("prometheus is not installed")
	}
	return path
}

// way is one way from a reading to whoever is told.
type way struct {
	name           string
	lasting, brief *times
	processes      map[string]*process // by what they are called in the report
	before         map[string]time.Duration
	ready          func() // waits until it knows all heaters
}

func newWay(name string) *way {
	return &way{
		name: name, processes: map[string]*process{}, before: map[string]time.Duration{},
		lasting: newTimes(regexp.MustCompile(`^lasting-(\d+)$`)), brief: newTimes(regexp.MustCompile(`^brief-(\d+)$`)),
	}
}

func (w *way) begin(h *spiking) {
	if h.brief {
		w.brief.begin(h.number)
	} else {
		w.lasting.begin(h.number)
	}
}

func (w *way) note(heater string) {
	w.lasting.note(heater)
	w.brief.note(heater)
}

// receiver listens for what one way tells.
func (w *way) receiver(b *testing.B, heaters func(*http.Request) []string) *httptest.Server {
	b.Helper()
	s := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		for _, h := range heaters(r) {
			w.note(h)
		}
	}))
	b.Cleanup(s.Close)
	return s
}

func (w *way) report(b *testing.B, took time.Duration) {
	b.Helper()
	if len(w.lasting.took) > 0 {
		b.ReportMetric(w.lasting.quantile(0.5).Seconds(), w.name+"-s-median")
		b.ReportMetric(w.lasting.quantile(1).Seconds(), w.name+"-s-worst")
	}
	b.ReportMetric(float64(len(w.lasting.took)), fmt.Sprintf("%s-lasting-of-%d", w.name, sameSpikes))
	b.ReportMetric(float64(len(w.brief.took)), fmt.Sprintf("%s-brief-of-%d", w.name, sameSpikes))
	for name, p := range w.processes {
		ms := (p.spent() - w.before[name]).Seconds() * 1e3
		b.ReportMetric(ms/sameHeaters/took.Minutes(), name+"-cpu-ms/heater-minute")
	}
}

// spent is the processor time that the process has had so far: utime and
// stime of proc(5), in ticks that Linux counts to programs as 1/100 s.
func (p *process) spent() time.Duration {
	p.t.Helper()
	raw, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", p.cmd.Process.Pid))
	if err != nil {
		p.t.Fatal(err)
	}
	_, afterName, _ := strings.Cut(string(raw), ") ")
	fields := strings.Fields(afterName) // the first is field 3
	user, errUser := strconv.Atoi(fields[14-3])
	system, errSystem := strconv.Atoi(fields[15-3])
	if errUser != nil || errSystem != nil {
		p.t.Fatalf("cannot read %q", raw)
	}
	return time.Duration(user+system) * time.Second / 100
}

// byHeaterd is the daemon as it is shipped, with a webhook.
func byHeaterd(b *testing.B, broker string) *way {
	b.Helper()
	w := newWay("heaterd")
	hook := w.receiver(b, func(r *http.Request) []string {
		var e webhook.Event
		if json.NewDecoder(r.Body).Decode(&e) != nil || e.Data.Alarm == nil || e.Data.Alarm.Kind != string(alarm.COCeiling) {
			return nil
		}
		return []string{e.Data.Alarm.Space}
	})
	path := filepath.Join(b.TempDir(), "heaterd.yaml")
	if err := os.WriteFile(path, []byte(spikeFleet(broker, hook.URL)), 0o600); err != nil {
		b.Fatal(err)
	}
	p := startCommand(b, exec.Command(asShipped.path(b), "run", "--config", path))
	p.connected(1)
	w.processes["heaterd"] = p
	w.ready = func() {}
	return w
}

// spikeFleet gives every heater a space of its own, for an alarm of the air
// is of the space.
func spikeFleet(broker, hook string) string {
	var s strings.Builder
	fmt.Fprintf(&s, `version: 1
broker: { url: %q }
http: { listen: "127.0.0.1:0" }
notify: { channels: [{ id: hook, webhook: { url: %q } }] }
on_call: { people: [{ id: ann, channels: [hook] }], fallback: ann }
sites:
`, broker, hook)
	var heaters strings.Builder
	for i, id := range spikeHeaters() {
		if i%samePerSite == 0 {
			fmt.Fprintf(&s, "  - id: %s\n    time_zone: UTC\n    limits: us-niosh\n    procedure: Out.\n    spaces:\n", spikeSite(i))
		}
		fmt.Fprintf(&s, "      - { id: %s }\n", id)
		fmt.Fprintf(&heaters, "  - { id: %s, node: %s, site: %s, space: %s }\n", id, id, spikeSite(i), id)
	}
	return s.String() + "heaters:\n" + heaters.String()
}

func spikeSite(i int) string { return fmt.Sprint("s-", i/samePerSite) }

// spikeHeaters names every heater by what becomes of it.
func spikeHeaters() []string {
	var ids []string
	for i := range sameHeaters {
		switch {
		case i < sameSpikes:
			ids = append(ids, fmt.Sprint("lasting-", i))
		case i < 2*sameSpikes:
			ids = append(ids, fmt.Sprint("brief-", i-sameSpikes))
		default:
			ids = append(ids, fmt.Sprint("calm-", i))
		}
	}
	return ids
}

// byPrometheus is what one would set up instead: an exporter of its own, and
// a Prometheus that scrapes and evaluates every so often.
func byPrometheus(b *testing.B, program, broker string, every time.Duration) *way {
	b.Helper()
	w := newWay(fmt.Sprint("prometheus-", every))
	manager := w.receiver(b, firing)
	page, address := mqtttest.FreeAddr(b), mqtttest.FreeAddr(b)
	gauges := startCommand(b, exec.Command("exporter", broker, page, w.name))
	gauges.says("subscribed", 1)
	dir := b.TempDir()
	rewrite(b, filepath.Join(dir, "rules.yml"), `groups: [{ name: co, rules: [{ alert: COCeiling, expr: co_ppm >= 200, for: 0s }] }]`)
	rewrite(b, filepath.Join(dir, "prometheus.yml"), fmt.Sprintf(`global: { scrape_interval: %v, scrape_timeout: 1s, evaluation_interval: %v }
rule_files: [rules.yml]
alerting: { alertmanagers: [{ static_configs: [{ targets: [%q] }] }] }
scrape_configs: [{ job_name: heaters, static_configs: [{ targets: [%q] }] }]
`, every, every, manager.Listener.Addr(), page))
	p := startCommand(b, exec.Command(program, "--config.file="+filepath.Join(dir, "prometheus.yml"),
		"--storage.tsdb.path="+filepath.Join(dir, "data"), "--web.listen-address="+address, "--log.level=error"))
	w.processes[w.name], w.processes[w.name+"-exporter"] = p, gauges
	w.ready = func() {
		p.until("it does not come to know the heaters", func() bool { return counted(address) == sameHeaters })
	}
	return w
}

// firing gives the heaters of the alerts that Prometheus posts to an
// Alertmanager. Those that have ended are among them again, which the
// receiver has noted by then.
func firing(r *http.Request) (heaters []string) {
	var alerts []struct {
		Labels struct{ Heater string }
	}
	if r.URL.Path != "/api/v2/alerts" || json.NewDecoder(r.Body).Decode(&alerts) != nil {
		return nil
	}
	for _, a := range alerts {
		heaters = append(heaters, a.Labels.Heater)
	}
	return heaters
}

// counted asks a Prometheus how many heaters it knows.
func counted(address string) int {
	resp, err := http.Get("http://" + address + "/api/v1/query?query=count(co_ppm)")
	if err != nil {
		return 0
	}
	defer resp.Body.Close()
	var a struct {
		Data struct{ Result []struct{ Value [2]any } }
	}
	if json.NewDecoder(resp.Body).Decode(&a) != nil || len(a.Data.Result) == 0 {
		return 0
	}
	n, _ := strconv.Atoi(fmt.Sprint(a.Data.Result[0].Value[1]))
	return n
}

// spikes publishes the readings of all heaters, in an order of chance, and
// lets CO rise at some of them.
type spikes struct {
	b       *testing.B
	node    *mqtt.Publisher
	ways    []*way
	heaters []*spiking
	rounds  int
	took    time.Duration // of run
}

// spiking is a heater, and when its CO rises.
type spiking struct {
	id, site string
	number   int
	brief    bool
	left     int           // readings above the ceiling that are to come
	after    time.Duration // since the start
	risen    bool
}

func newSpikes(b *testing.B, broker string, ways []*way) *spikes {
	b.Helper()
	s := &spikes{b: b, ways: ways, node: mqtt.NewPublisher(mqtt.Link{URL: broker, ClientID: "nodes", Log: silent})}
	b.Cleanup(s.node.Close)
	for i, id := range spikeHeaters() {
		h := &spiking{id: id, site: spikeSite(i)}
		if i < 2*sameSpikes {
			h.number, h.brief = i%sameSpikes, i >= sameSpikes
			h.after = time.Duration(2*h.number) * sameGap
			h.left = sameLasting
		}
		if h.brief {
			h.after += sameGap
			h.left = 1
		}
		s.heaters = append(s.heaters, h)
	}
	seed := uint64(time.Now().UnixNano())
	b.Logf("seed %d", seed)
	rand.New(rand.NewPCG(seed, 0)).Shuffle(len(s.heaters), func(i, j int) { s.heaters[i], s.heaters[j] = s.heaters[j], s.heaters[i] })
	return s
}

func (s *spikes) publishAll() {
	for _, h := range s.heaters {
		s.say(h, 4)
	}
}

// run publishes one heater after the other until the last spike is over and
// every way has had its time.
func (s *spikes) run() {
	for _, w := range s.ways {
		for name, p := range w.processes {
			w.before[name] = p.spent()
		}
	}
	tick := time.NewTicker(sameEvery / sameHeaters)
	defer tick.Stop()
	start := time.Now()
	end := start.Add(2*sameSpikes*sameGap + (sameLasting+1)*sameEvery)
	for n := 0; time.Now().Before(end); n++ {
		<-tick.C
		s.turn(s.heaters[n%sameHeaters], time.Since(start))
	}
	s.took = time.Since(start)
}

// turn says what a heater measures now.
func (s *spikes) turn(h *spiking, now time.Duration) {
	if h.left == 0 || now < h.after {
		s.say(h, 4)
		return
	}
	if !h.risen {
		h.risen = true
		for _, w := range s.ways {
			w.begin(h)
		}
	}
	h.left--
	s.say(h, 250)
}

func (s *spikes) say(h *spiking, co int) {
	s.rounds++
	body := fmt.Sprintf(`[{"bn":"%s/","n":"flame","vb":true},{"n":"runtime","u":"s","v":%d},{"n":"co","u":"ppm","v":%d},{"n":"temp","u":"Cel","v":11.5}]`,
		h.id, s.rounds/sameHeaters*int(sameEvery.Seconds()), co)
	if err := s.node.Publish(s.b.Context(), "sites/"+h.site+"/nodes/"+h.id+"/telemetry", []byte(body), false); err != nil {
		s.b.Fatal(err)
	}
}
