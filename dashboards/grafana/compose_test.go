package grafana_test

import (
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"heaterd/config"
)

const root = "../.."

func compose(t *testing.T) string {
	t.Helper()
	body, err := os.ReadFile(root + "/docker-compose.yml")
	if err != nil {
		t.Fatal(err)
	}
	return string(body)
}

var (
	image   = regexp.MustCompile(`(?m)^    image: (\S+)$`)
	mounted = regexp.MustCompile(`(?m)^      - (\./[^:]+):[^:]+:ro$`)
	pinned  = regexp.MustCompile(`^[a-z/-]+:v?\d+\.\d+\.\d+$`)
)

func TestImagesArePinned(t *testing.T) {
	for _, m := range image.FindAllStringSubmatch(compose(t), -1) {
		if m[1] != "heaterd:local" && !pinned.MatchString(m[1]) {
			t.Errorf("%s is no version", m[1])
		}
	}
	if !strings.Contains(compose(t), "image: influxdb:2.") {
		t.Error("InfluxDB must stay at 2.x: what came after speaks otherwise")
	}
}

func TestWhatIsMountedExists(t *testing.T) {
	found := mounted.FindAllStringSubmatch(compose(t), -1)
	for _, m := range found {
		if _, err := os.Stat(filepath.Join(root, m[1])); err != nil {
			t.Error(err)
		}
	}
	if len(found) < 8 {
		t.Errorf("only %d mounts found", len(found))
	}
}

func TestSecretsAreFiles(t *testing.T) {
	_, list, _ := strings.Cut(compose(t), "\nsecrets:\n")
	for line := range strings.Lines(list) {
		if !strings.Contains(line, "{ file: ./secrets/") {
			t.Errorf("no file: %s", line)
		}
	}
	for line := range strings.Lines(compose(t)) {
		key, value, ok := strings.Cut(strings.TrimSpace(line), ": ")
		secret := strings.Contains(key, "PASSWORD") || strings.Contains(key, "TOKEN")
		if ok && secret && !strings.HasPrefix(value, "/run/secrets/") {
			t.Errorf("a secret in the file itself: %s", key)
		}
	}
}

func TestComposeClientAcceptsIt(t *testing.T) {
	if err := exec.Command("docker", "compose", "version").Run(); err != nil {
		t.Skip("docker compose is not installed; the stage compose of .ci/run asks the reference reader instead")
	}
	cmd := exec.Command("docker", "compose", "-f", root+"/docker-compose.yml", "config", "--quiet")
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Errorf("%v\n%s", err, out)
	}
}

// The services must agree on addresses, users and ports.
func TestTheConfigurationFitsTheServices(t *testing.T) {
	const file = root + "/testdata/packaging/heaterd.yaml"
	body, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	asked := map[string]bool{}
	cfg, err := config.Parse(file, body, config.Options{Dir: filepath.Dir(file), Open: func(path string) (fs.FileMode, []byte, error) {
		asked[path] = true
		return 0o400, []byte("secret"), nil
	}})
	if err != nil {
		t.Fatal(err)
	}
	for path := range asked {
		if name := strings.TrimPrefix(path, "/run/secrets/"); !strings.Contains(compose(t), "  "+name+": { file: ./secrets/") {
			t.Errorf("no service secret for %s", path)
		}
	}
	scrape, err := os.ReadFile(root + "/testdata/prometheus/prometheus.yml")
	_, port, _ := strings.Cut(cfg.HTTP.MetricsListen, ":")
	if err != nil || !strings.Contains(string(scrape), `"heaterd:`+port+`"`) {
		t.Errorf("Prometheus does not read %s: %v", cfg.HTTP.MetricsListen, err)
	}
	for _, s := range []string{"_ORG: " + cfg.History.Org + "\n", "_BUCKET: " + cfg.History.Bucket + "\n"} {
		if !strings.Contains(compose(t), s) {
			t.Errorf("the services do not say %q", s)
		}
	}
}

// What the unit allows is bounded: 0 is nothing, 10 everything.
func TestTheUnitIsLocked(t *testing.T) {
	if _, err := exec.LookPath("systemd-analyze"); err != nil {
		t.Skip("systemd-analyze is not installed")
	}
	const unit = "heaterd.service"
	body, err := os.ReadFile(root + "/testdata/packaging/" + unit)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, unit), body, 0o644); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("systemd-analyze", "security", "--offline=true", "--no-pager", "--threshold=15", filepath.Join(dir, unit))
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Errorf("%v\n%s", err, out)
	}
}
