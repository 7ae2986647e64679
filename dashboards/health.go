package dashboards

import (
	"net/http"

	"heaterd/dashboards/access"
)

// livez says that the process answers.
func (p *pages) livez(w http.ResponseWriter, _ *http.Request) error {
	writeWhole(w, "text/plain; charset=utf-8", []byte("ok\n"))
	return nil
}

// checkResult is one line of /readyz.
type checkResult struct {
	Name  string `json:"name"`
	OK    bool   `json:"ok"`
	Error string `json:"error,omitempty"`
}

// readyz lists the checks; 503 when one of them fails. Why it fails names hosts
// and paths: strangers are told only that it does.
func (p *pages) readyz(w http.ResponseWriter, r *http.Request) error {
	status, out := http.StatusOK, []checkResult{}
	if p.o.Checks == nil {
		writeJSON(w, status, out)
		return nil
	}
	why := visitor(r).Role.Covers(access.Viewer)
	for _, c := range p.o.Checks() {
		one := checkResult{Name: c.Name, OK: c.Err == nil}
		if c.Err != nil {
			status = http.StatusServiceUnavailable
		}
		if c.Err != nil && why {
			one.Error = c.Err.Error()
		}
		out = append(out, one)
	}
	writeJSON(w, status, out)
	return nil
}

func (p *pages) metrics(w http.ResponseWriter, r *http.Request) error {
	if p.o.Metrics == nil {
		return problem(http.StatusNotFound, "There are no metrics here; they may be on an address of their own.")
	}
	p.o.Metrics.ServeHTTP(w, r)
	return nil
}
