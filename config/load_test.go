package config_test

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"heaterd/config"
	"heaterd/ingest/source"
)

func noEnvironment(string) (string, bool) { return "", false }

func TestSmallFileIsAcceptedWithoutItsSecrets(t *testing.T) {
	cfg, err := config.Load(filepath.Join("testdata", "small.yaml"), noEnvironment)
	if err != nil {
		t.Fatal(err)
	}
	var wrong *config.Errors
	if err := cfg.Ready(); !errors.As(err, &wrong) || !strings.Contains(err.Error(), "small.yaml:7:18: broker.password_file") {
		t.Errorf("Ready does not say which file is not there: %v", err)
	}
	summary := config.Summary(cfg)
	for _, want := range []string{"site quay (Quay Street hall), time zone Europe/Dublin", "us-niosh", "unit: n-07, expected at sites/+/nodes/n-07/telemetry", "service plan default", "3 warnings"} {
		if !strings.Contains(summary, want) {
			t.Errorf("the summary does not say %q:\n%s", want, summary)
		}
	}
}

func TestDefaults(t *testing.T) {
	cfg := parse(t, least)
	check(t, "store", cfg.Store, config.Store{Path: "/etc/heaterd/heaterd.db", Quarantine: 1000})
	check(t, "log", cfg.Log, config.Log{Level: "info", Format: "text"})
	check(t, "lateness", cfg.Lateness, 10*time.Minute)
	check(t, "backlog", cfg.Backlog, 168*time.Hour)
	check(t, "pages", cfg.HTTP.Listen, "127.0.0.1:8080")
	check(t, "sources", fmt.Sprint(cfg.Sources), fmt.Sprint(source.Defaults()))
	check(t, "broker", cfg.Broker, nil)
	check(t, "embedded", fmt.Sprint(cfg.Embedded), "{/etc/heaterd/broker 127.0.0.1 1883 [] false}")
	check(t, "plan", cfg.Plan.Name, "default")
	check(t, "steps", len(cfg.Notify.Steps), 0)
	check(t, "ready", cfg.Ready(), nil)
	check(t, "zone", cfg.Fleet.Sites[0].Zone, time.UTC)
	check(t, "limits", cfg.Fleet.Sites[0].Limits.Name, "us-niosh")
	check(t, "activity", cfg.Fleet.Sites[0].Activity, "heavy")
	check(t, "name", cfg.Fleet.Sites[0].Name, "quay")
}

// least is the shortest file that is accepted.
const least = `
version: 1
sites: [{ id: quay, spaces: [{ id: hall }] }]
heaters: [{ id: H-1, site: quay, space: hall }]
`

func parse(t *testing.T, text string) *config.Config {
	t.Helper()
	cfg, err := config.Parse("f.yaml", []byte(text), options())
	if err != nil {
		t.Fatal(err)
	}
	return cfg
}

func check[T comparable](t *testing.T, what string, got, want T) {
	t.Helper()
	if got != want {
		t.Errorf("%s: got %v, want %v", what, got, want)
	}
}

func TestReferenceBecomesValues(t *testing.T) {
	opts := options()
	opts.Open = nil
	opts.Getenv = func(name string) (string, bool) { return "value of " + name, true }
	cfg, err := config.Parse("reference.yaml", []byte(config.Reference), opts)
	if err != nil {
		t.Fatal(err)
	}
	n := cfg.Notify
	check(t, "channels", fmt.Sprintln(n.Channels[0].Kind, n.Channels[1].Kind, n.Channels[2].Kind, n.Channels[3].Kind), "webhook mail mqtt text\n")
	check(t, "header", n.Channels[3].Header["Authorization"], "Bearer value of PAGER_TOKEN")
	check(t, "people", fmt.Sprint(n.People[0].Channels, *n.People[0].Quiet), "[pager mail] {22h0m0s 6h0m0s}")
	check(t, "turns", fmt.Sprintln(n.Rota.Turns, n.Rota.Begins, n.Rota.HandOver), "[mara tom] 2026-01-05 8h0m0s\n")
	check(t, "override", n.Rota.Overrides[0].From.UTC().String(), "2026-02-02 08:00:00 +0000 UTC")
	check(t, "steps", fmt.Sprint(n.Steps), "[{0s on-call [pager]} {10m0s next []} {20m0s everyone []}]")
	check(t, "fallback", n.Fallback, "mara")
	check(t, "digest", n.Digest, 7*time.Hour)
	check(t, "heater", fmt.Sprintln(cfg.Fleet.Heaters[0].COCheckDue, *cfg.Fleet.Heaters[0].Thermostat), "2026-06-30 {12 2}\n")
	check(t, "days", fmt.Sprint(cfg.Fleet.Sites[0].PlannedOff), "[{[Saturday Sunday] 18h0m0s 5h0m0s}]")
	check(t, "own limits", fmt.Sprint(cfg.Fleet.Sites[1].Limits), "{own 100 60 20 5 site safety plan, section 7 }")
	check(t, "triggers", fmt.Sprint(cfg.Plan.Tasks[0].Triggers[:2]), "[{burner-hours 50 true false} {days 180 false false}]")
	check(t, "token", cfg.HTTP.Tokens[0].SHA256[0], 0x9f)
	check(t, "proxies", fmt.Sprint(cfg.HTTP.TrustedProxies), "[127.0.0.1/32 10.20.0.0/16]")
	check(t, "certificate", cfg.Broker.CAFile, "/etc/heaterd/ca.pem")
	check(t, "history", cfg.History.Bucket, "heaters")
	compare(t, filepath.Join("testdata", "reference.summary"), config.Summary(cfg))
}

func TestStatusTopicComesAlong(t *testing.T) {
	cfg := parse(t, least+"sources: [{ filter: works/+/telemetry, node: topic:2 }, { filter: other/# }]\n")
	var got []string
	for _, s := range cfg.Sources {
		got = append(got, fmt.Sprint(s.Filter, " ", s.Format, " ", int(s.Node)))
	}
	check(t, "sources", strings.Join(got, ", "),
		"works/+/telemetry senml 2, other/# senml 0, works/+/status status 2")
}

func TestLoadOfAFileThatIsNotThere(t *testing.T) {
	_, err := config.Load(filepath.Join(t.TempDir(), "none.yaml"), noEnvironment)
	if !errors.Is(err, os.ErrNotExist) {
		t.Errorf("got %v", err)
	}
}

func TestSecretFilesOnDisk(t *testing.T) {
	for _, c := range []struct {
		name    string
		mode    os.FileMode
		text    string
		wrong   string // in the error of Load
		missing string // in the error of Ready
	}{
		{name: "own", mode: 0o600, text: "s3cret\n"},
		{name: "group", mode: 0o640, text: "s3cret\r\n"},
		{name: "world", mode: 0o644, text: "s3cret\n", wrong: "can be read by everyone (mode 0644)"},
		{name: "empty", mode: 0o600, text: "\n", wrong: "is empty"},
		{name: "huge", mode: 0o600, text: strings.Repeat("x", 5000), missing: "at most 4096 bytes"},
		{name: "absent", missing: "no such file"},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			if c.mode != 0 {
				write(t, filepath.Join(dir, "mqtt.password"), c.text, c.mode)
			}
			file := filepath.Join(dir, "f.yaml")
			write(t, file, least+"broker: { url: 'tcp://127.0.0.1:1883', username: u, password_file: mqtt.password }\n", 0o644)
			cfg, err := config.Load(file, noEnvironment)
			if c.wrong != "" {
				contains(t, err, c.wrong)
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			if c.missing != "" {
				contains(t, cfg.Ready(), c.missing)
				return
			}
			check(t, "password", string(cfg.Broker.Password), "s3cret")
			check(t, "path", cfg.Path, file)
		})
	}
}

func write(t *testing.T, path, text string, mode os.FileMode) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), mode); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(path, mode); err != nil { // whatever the umask
		t.Fatal(err)
	}
}

func contains(t *testing.T, err error, want string) {
	t.Helper()
	if err == nil || !strings.Contains(err.Error(), want) {
		t.Errorf("got %v, want it to say %q", err, want)
	}
}

func TestSecretsNeverStandInTexts(t *testing.T) {
	opts := options()
	opts.Getenv = func(string) (string, bool) { return "hunter2", true }
	_, err := config.Parse("f.yaml", []byte(least+`
broker: { url: "tcp://u:hunter2@h", password: hunter2 }
history: { influx: { url: "${SECRET}", org: o, bucket: b } }
heartbeat: { url: "x://${SECRET}" }
http: { users: [{ name: a, role: viewer, password_bcrypt: hunter2 }], tokens: [{ name: a, role: viewer, sha256: hunter2 }] }
notify: { channels: [{ id: a, text: { url: "https://h", template: x, header: { Authorization: hunter2 } } }, { id: b, mqtt: { topic: "${SECRET}/#" } }, { id: c, mail: { server: "${SECRET}", from: "${SECRET}" } }] }
`), opts)
	if err == nil || strings.Contains(err.Error(), "hunter2") {
		t.Errorf("a secret is repeated, or nothing was said:\n%v", err)
	}
}

func TestAddressesAndPaths(t *testing.T) {
	people := "notify: { channels: [{ id: hook, webhook: { url: 'https://h' } }] }\n" +
		"on_call: { people: [{ id: a, channels: [hook] }], fallback: a, calendar: '%s' }\n"
	for _, c := range []struct {
		name, text string
		got        func(*config.Config) string
		want       string
	}{
		{"absolute store", "store: { path: /var/lib/x.db }", func(c *config.Config) string { return c.Store.Path }, "/var/lib/x.db"},
		{"relative store", "store: { path: ../x.db }", func(c *config.Config) string { return c.Store.Path }, "/etc/x.db"},
		{"calendar file", fmt.Sprintf(people, "rota.ics"), func(c *config.Config) string { return c.Notify.Rota.Calendar }, "/etc/heaterd/rota.ics"},
		{"calendar address", fmt.Sprintf(people, "https://h/rota.ics"), func(c *config.Config) string { return c.Notify.Rota.Calendar }, "https://h/rota.ics"},
		{"broker by name", "embedded_broker: { listen: localhost:0 }", func(c *config.Config) string { return fmt.Sprintln(c.Embedded.Host, c.Embedded.Port) }, "127.0.0.1 0\n"},
		{"broker for all", "embedded_broker: { listen: ':1883', users: [{ name: n, password_file: good.secret }] }",
			func(c *config.Config) string { return fmt.Sprint(c.Embedded.Host, c.Embedded.Users) }, "0.0.0.0[{n [99 111 114 114 101 99 116 32 104 111 114 115 101] [#] []}]"},
		{"default steps", fmt.Sprintf(people, "rota.ics"), func(c *config.Config) string { return fmt.Sprint(c.Notify.Steps) },
			"[{0s on-call []} {10m0s next []} {20m0s everyone []}]"},
	} {
		check(t, c.name, c.got(parse(t, least+c.text)), c.want)
	}
}

func TestBrokerAddresses(t *testing.T) {
	for url, right := range map[string]bool{
		"tcp://h:1883": true, "tls://[::1]:8883": true, "ws://h/mqtt": true, "wss://h": true,
		"tcp://h": false, "tcp://h:0": false, "tcp://h:70000": false, "mqtt://h:1883": false, "h:1883": false, "tcp://:1883": false, "tcp://u@h:1": false,
	} {
		_, err := config.Parse("f.yaml", []byte(least+"broker: { url: '"+url+"' }"), options())
		if (err == nil) != right {
			t.Errorf("%s: %v", url, err)
		}
	}
}
