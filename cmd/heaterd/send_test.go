package main

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"
)

// Whoever sends a test must know where to look for it.
func TestSendSaysToWhom(t *testing.T) {
	taken := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if strings.HasPrefix(r.URL.Path, "/broken") {
			w.WriteHeader(http.StatusBadRequest)
		}
	}))
	defer taken.Close()
	host := strings.TrimPrefix(taken.URL, "http://")
	file := filepath.Join(written(t, map[string]string{"heaterd.yaml": smallSite + fmt.Sprintf(`
notify:
  channels:
    - { id: pager, text: { url: "%[1]s/a-key", template: "to={{form .Address}}" } }
    - { id: hook, webhook: { url: "%[1]s/a-key" } }
    - { id: dead, text: { url: "%[1]s/broken", template: x } }
    - { id: bell, text: { url: "%[1]s/bell", template: x } }
on_call:
  people:
    - { id: mara, name: Mara, channels: [pager], address: "000 555" }
    - { id: tom, name: Tom, channels: [pager, dead], address: "000 556" }
  fallback: mara
  steps: [{ tell: everyone }]
`, taken.URL)}), "heaterd.yaml")
	status, out, errs := invoke(t.Context(), "check", "send", "--config", file)
	want := "channel pager: sent to Mara (000 555); not tried: Tom\nchannel hook: sent to " + host + "\nchannel bell: sent to " + host + "\n"
	if status != 1 || out != want {
		t.Errorf("exit status %d, and it said\n%swant\n%s", status, out, want)
	}
	if !strings.Contains(errs, "channel dead: to Tom (000 556): ") {
		t.Errorf("of the one that failed it said %q", errs)
	}
	if _, _, errs := invoke(t.Context(), "check", "send", "--config", file, "--channel", "mail"); !strings.Contains(errs, `no channel "mail" in the configuration; there are: pager, hook, dead, bell`) {
		t.Errorf("of a channel that there is not it said %q", errs)
	}
	for who, want := range map[string]string{
		"everyone": "channel pager: sent to Mara (000 555)\nchannel pager: sent to Tom (000 556)\nchannel hook: sent to " + host + "\nchannel bell: sent to " + host + "\n",
		"tom":      "channel pager: sent to Tom (000 556)\n",
		"mara":     "channel pager: sent to Mara (000 555)\n",
	} {
		if _, out, _ := invoke(t.Context(), "check", "send", "--config", file, "--person", who); out != want {
			t.Errorf("to %s it said\n%swant\n%s", who, out, want)
		}
	}
	if status, _, errs := invoke(t.Context(), "check", "send", "--config", file, "--person", "ann"); status != 1 || !strings.Contains(errs, `no person "ann" in the configuration; there are: mara, tom, everyone`) {
		t.Errorf("of a person that there is not: status %d, %q", status, errs)
	}
	if strings.Contains(out+errs, "a-key") {
		t.Errorf("an address that may hold a key is told:\n%s%s", out, errs)
	}
}
