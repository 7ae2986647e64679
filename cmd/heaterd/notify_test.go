package main

import (
	"context"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"heaterd/config"
)

// manager listens as a service manager does (sd_notify(3)).
func manager(t *testing.T) (next func() string) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "notify")
	c, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: path, Net: "unixgram"})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = c.Close() })
	t.Setenv("NOTIFY_SOCKET", path)
	return func() string {
		t.Helper()
		for {
			b := make([]byte, 512)
			_ = c.SetReadDeadline(time.Now().Add(30 * time.Second))
			n, err := c.Read(b)
			if err != nil {
				t.Fatal(err)
			}
			if word, _, _ := strings.Cut(string(b[:n]), "\n"); word != "WATCHDOG=1" {
				return word
			}
		}
	}
}

// A manager that hears STOPPING=1 ends the process when the time for stopping
// is over, so a reload must not say it.
func TestReloadIsNoStop(t *testing.T) {
	next := manager(t)
	dir := written(t, map[string]string{"heaterd.yaml": smallSite + "embedded_broker: { listen: \"127.0.0.1:0\" }\n"})
	p := startProcess(t, "run", "--config", filepath.Join(dir, "heaterd.yaml"))
	want := func(word string) {
		t.Helper()
		if got := next(); got != word {
			t.Fatalf("it told the manager %q, want %q; it said:\n%s", got, word, p.said.String())
		}
	}
	want("READY=1")
	for range 2 {
		if err := p.cmd.Process.Signal(syscall.SIGHUP); err != nil {
			t.Fatal(err)
		}
		want("RELOADING=1")
		want("READY=1")
	}
	p.stop()
	want("STOPPING=1")
}

// A configuration that reads well and cannot start, here because its address
// is taken, must not leave the site without a daemon.
func TestReloadThatCannotStart(t *testing.T) {
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer taken.Close()
	const own = smallSite + "embedded_broker: { listen: \"127.0.0.1:0\" }\n"
	dir := written(t, map[string]string{"heaterd.yaml": own})
	file := filepath.Join(dir, "heaterd.yaml")
	p := startProcess(t, "run", "--config", file)
	p.says(`msg="heaterd runs"`, 1)
	rewrite(t, file, strings.Replace(own, "http: { listen: \"127.0.0.1:0\" }", "http: { listen: \""+taken.Addr().String()+"\" }", 1))
	hangUp(t, p)
	p.says("the old one is used again", 1)
	p.says(`msg="heaterd runs"`, 2)
	rewrite(t, file, own)
	hangUp(t, p)
	p.says(`msg="heaterd runs"`, 3)
	p.stop()
}

// The manager must not hear of a reload from a daemon that has ended meanwhile,
// and one that starts in its place must not miss the hang-up.
func TestAHangUpThatTheEndOvertakes(t *testing.T) {
	ctx, end := context.WithCancel(t.Context())
	hangups := make(chan os.Signal, 1)
	hangups <- syscall.SIGHUP
	reload := func() (*config.Config, error) { end(); return &config.Config{}, nil }
	await(ctx, hangups, reload, silent, func(*config.Config) { t.Error("the configuration is taken after the end") })
	if len(hangups) != 1 {
		t.Error("the hang-up is lost")
	}
}

func rewrite(t testing.TB, file, body string) {
	t.Helper()
	if err := os.WriteFile(file, []byte(body), 0o600); err != nil {
		t.Fatal(err)
	}
}

func hangUp(t *testing.T, p *process) {
	t.Helper()
	if err := p.cmd.Process.Signal(syscall.SIGHUP); err != nil {
		t.Fatal(err)
	}
}

// A calendar that is none, as when its server asks somebody to sign in, costs
// the rota and not the alarms.
func TestACalendarThatIsNoneStopsNoStart(t *testing.T) {
	dir := written(t, map[string]string{
		"rota.ics": "<html>Please sign in.</html>",
		"heaterd.yaml": smallSite + `embedded_broker: { listen: "127.0.0.1:0" }
notify: { channels: [{ id: signs, mqtt: { topic: signs } }] }
on_call: { people: [{ id: mara, channels: [signs] }], calendar: rota.ics, fallback: mara }
`})
	p := startProcess(t, "run", "--config", filepath.Join(dir, "heaterd.yaml"))
	p.says(`msg="heaterd runs"`, 1)
	p.says("the fallback is on call until the calendar can be read", 1)
	p.stop()
}

// What is only beginning is not unwell: the first heartbeat waits for it, and is
// not missed at every start.
func TestTheFirstHeartbeatWaitsForTheBroker(t *testing.T) {
	beats := make(chan struct{}, 1)
	watcher := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) {
		select {
		case beats <- struct{}{}:
		default:
		}
	}))
	defer watcher.Close()
	dir := written(t, map[string]string{"heaterd.yaml": smallSite + "embedded_broker: { listen: \"127.0.0.1:0\" }\nheartbeat: { url: \"" + watcher.URL + "\", every: 1h }\n"})
	p := startProcess(t, "run", "--config", filepath.Join(dir, "heaterd.yaml"))
	select {
	case <-beats:
	case <-time.After(30 * time.Second):
		t.Error("no heartbeat came")
	}
	p.stop()
	if strings.Contains(p.said.String(), "no heartbeat was sent") {
		t.Errorf("it said:\n%s", p.said.String())
	}
}

// A certificate that does not fit must not cost a daemon that runs its broker.
func TestReloadWithAWrongCertificateChangesNothing(t *testing.T) {
	const own = smallSite + "embedded_broker: { listen: \"127.0.0.1:0\" }\n"
	dir := written(t, map[string]string{"heaterd.yaml": own, "empty.pem": "no certificate\n"})
	file := filepath.Join(dir, "heaterd.yaml")
	p := startProcess(t, "run", "--config", file)
	p.says(`msg="heaterd runs"`, 1)
	rewrite(t, file, smallSite+"broker: { url: \"tls://127.0.0.1:1\", ca_file: empty.pem }\n")
	hangUp(t, p)
	p.says("the old one stays in force", 1)
	p.says("broker.ca_file: "+filepath.Join(dir, "empty.pem")+" holds no certificate", 1)
	p.stop()
}

// Its server being away while the daemon reads its configuration again, or
// starts, takes nobody off call. What another calendar said counts for nothing.
func TestACalendarThatIsAway(t *testing.T) {
	const said = "BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\nUID:1\r\nSUMMARY:mara\r\nDTSTART:20260105T080000Z\r\nDURATION:P7D\r\nRRULE:FREQ=WEEKLY\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"
	called := smallSite + `embedded_broker: { listen: "127.0.0.1:0" }
notify: { channels: [{ id: signs, mqtt: { topic: signs } }] }
on_call: { people: [{ id: mara, channels: [signs] }, { id: tom, channels: [signs] }], calendar: rota.ics, fallback: tom }
`
	dir := written(t, map[string]string{"rota.ics": said, "heaterd.yaml": called})
	file := filepath.Join(dir, "heaterd.yaml")
	p := startProcess(t, "run", "--config", file)
	p.says(`msg="heaterd runs"`, 1)
	if err := os.Remove(filepath.Join(dir, "rota.ics")); err != nil {
		t.Fatal(err)
	}
	hangUp(t, p)
	p.says("who is on call goes by what the calendar said before", 1)
	p.says(`msg="heaterd runs"`, 2)
	p.stop()
	p = startProcess(t, "run", "--config", file)
	p.says("who is on call goes by what the calendar said before", 1)
	p.says(`msg="heaterd runs"`, 1)
	p.stop()
	rewrite(t, file, strings.Replace(called, "rota.ics", "other.ics", 1))
	p = startProcess(t, "run", "--config", file)
	p.says("the fallback is on call until the calendar can be read", 1)
	p.stop()
}
