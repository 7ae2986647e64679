package dashboards

import (
	"fmt"
	"net/http"
	"time"

	"heaterd/dashboards/access"
)

// How the stream of changes runs. Common practice, no source.
const (
	lookEvery   = 2 * time.Second  // changes closer together are told as one
	beatEvery   = 15 * time.Second // keeps proxies from closing the stream, and tells the page that it is heard
	retryAfter  = 5 * time.Second  // what the browser waits before it comes back
	streamWrite = 10 * time.Second // a reader slower than this is let go
	streamLife  = 10 * time.Minute // then the browser comes back
)

// events tells the browser that something changed (WHATWG HTML, server-sent
// events): the id is how far the alarm loop has read.
func (p *pages) events(w http.ResponseWriter, r *http.Request) error {
	if p.o.Changed == nil {
		w.WriteHeader(http.StatusNoContent) // tells the browser not to come back
		return nil
	}
	h := w.Header()
	h.Set("Content-Type", "text/event-stream")
	h.Set("X-Accel-Buffering", "no")
	s := stream{w: w, c: http.NewResponseController(w)}
	_ = s.c.SetReadDeadline(time.Time{}) // nothing more is read; recorders in tests have none
	seen := p.o.Changed()
	if !s.send("retry: %d\nid: %d\nevent: at\ndata: %[2]d\n\n", retryAfter.Milliseconds(), seen) {
		return nil
	}
	look, beat, end := time.NewTicker(lookEvery), time.NewTicker(beatEvery), time.NewTimer(streamLife)
	defer look.Stop()
	defer beat.Stop()
	defer end.Stop()
	for {
		select {
		case <-r.Context().Done():
			return nil
		case <-end.C:
			return nil
		case <-beat.C:
			if !p.gate.Who(r).Role.Covers(access.Viewer) { // the session ended: the page must not pass for a live one
				return nil
			}
			if !s.send("event: beat\ndata:\n\n") {
				return nil
			}
		case <-look.C:
			if now := p.o.Changed(); now != seen {
				seen = now
				if !s.send("id: %d\nevent: at\ndata: %[1]d\n\n", seen) {
					return nil
				}
			}
		}
	}
}

// stream writes events; each has its own deadline, for the server's would end
// the stream.
type stream struct {
	w http.ResponseWriter
	c *http.ResponseController
}

func (s stream) send(format string, args ...any) bool {
	_ = s.c.SetWriteDeadline(time.Now().Add(streamWrite)) // recorders in tests have none
	if _, err := fmt.Fprintf(s.w, format, args...); err != nil {
		return false
	}
	return s.c.Flush() == nil
}
