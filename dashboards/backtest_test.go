package dashboards_test

import (
	"context"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"heaterd/dashboards"
)

// TestAConfigurationOnTrialIsKept: it was pasted on a page, and the mistakes in
// it are told beside it.
func TestAConfigurationOnTrialIsKept(t *testing.T) {
	var tried string
	var fails error
	w := newWorld(t, func(o *dashboards.Options) {
		o.Backtest = func(_ context.Context, _ int, text string) (dashboards.Backtest, error) {
			tried = text
			return dashboards.Backtest{Same: 3}, fails
		}
	})
	send := func(text string) (int, string) {
		rec := w.do("POST", "/alarms/backtest", url.Values{"days": {"5"}, "configuration": {text}})
		return rec.Code, rec.Body.String()
	}
	code, page := send("version: 1\n")
	has(t, page, "3 alarms would have been the same", ">version: 1\n</textarea>", `value="5"`)
	if code != http.StatusOK {
		t.Errorf("a right one: status %d", code)
	}
	fails = &dashboards.Problem{Status: 422, Text: "proposed.yaml:2:1: sites: missing\nproposed.yaml:3:1: heaters: missing"}
	code, page = send("version: 1 # <mine>\n")
	has(t, page, "<li>proposed.yaml:2:1: sites: missing</li>", "<li>proposed.yaml:3:1: heaters: missing</li>", "version: 1 # &lt;mine&gt;\n</textarea>", `value="5"`)
	if code != http.StatusUnprocessableEntity {
		t.Errorf("a wrong one: status %d", code)
	}
	fails = nil
	if code, _ = send(strings.Repeat("# a line of a large fleet\n", 100_000)); code != http.StatusOK || len(tried) != 2_600_000 {
		t.Errorf("a large one: status %d, %d bytes tried", code, len(tried))
	}
	tried = ""
	if code, _ = send(strings.Repeat("# far too large a fleet\n", 600_000)); code != http.StatusRequestEntityTooLarge || tried != "" {
		t.Errorf("one far too large: status %d, %d bytes tried", code, len(tried))
	}
}
