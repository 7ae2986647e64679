package dashboards_test

import (
	"compress/gzip"
	"context"
	"io"
	"net/http"
	"net/http/httptest"
	"testing"
	"testing/synctest"
	"time"

	"heaterd/alerts/fold"
	"heaterd/dashboards"
)

func unzipped(t *testing.T, rec *httptest.ResponseRecorder) string {
	t.Helper()
	z, err := gzip.NewReader(rec.Body)
	if err != nil {
		t.Fatal(err)
	}
	raw, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	return string(raw)
}

// TestAnswersComeCompressed to those who take them so, and say the same.
func TestAnswersComeCompressed(t *testing.T) {
	w := newWorld(t)
	for _, path := range []string{"/", "/heaters/H-07", "/service.ics", "/api/v1/fleet", "/reports/service?format=csv", "/static/style.css", "/static/live.js"} {
		plain := w.do("GET", path, nil)
		if got := plain.Header().Get("Content-Encoding"); got != "" || plain.Header().Get("Vary") != "Accept-Encoding" {
			t.Errorf("%s, to somebody who takes none: encoding %q, varies by %q", path, got, plain.Header().Get("Vary"))
		}
		want, length := plain.Body.String(), plain.Body.Len()
		if got := w.do("GET", path, nil, "Accept-Encoding", "gzip;q=0, br").Header().Get("Content-Encoding"); got != "" {
			t.Errorf("%s, to somebody who refuses gzip: encoding %q", path, got)
		}
		rec := w.do("GET", path, nil, "Accept-Encoding", "br, gzip")
		if got := rec.Header().Get("Content-Encoding"); got != "gzip" && length > 1024 {
			t.Errorf("%s: encoding %q of %d bytes", path, got, length)
			continue
		}
		if rec.Body.Len() > length/2 && length > 1024 {
			t.Errorf("%s: %d bytes of %d", path, rec.Body.Len(), length)
		}
		if length > 1024 && unzipped(t, rec) != want {
			t.Errorf("%s says something else compressed", path)
		}
	}
}

// TestWhatIsCompressedStaysSo: the metrics page packs itself.
func TestWhatIsCompressedStaysSo(t *testing.T) {
	packed := http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/plain")
		w.Header().Set("Content-Encoding", "gzip")
		_, _ = w.Write(make([]byte, 4096))
	})
	w := newWorld(t, func(o *dashboards.Options) { o.Metrics = packed })
	rec := w.do("GET", "/metrics", nil, "Accept-Encoding", "gzip")
	if got := rec.Header().Values("Content-Encoding"); len(got) != 1 || rec.Body.Len() != 4096 {
		t.Errorf("encodings %q, %d bytes, want those 4096 that were written", got, rec.Body.Len())
	}
}

// TestKeptFilesStayGood: what a browser kept is good whichever way it came.
func TestKeptFilesStayGood(t *testing.T) {
	w := newWorld(t)
	for _, first := range []string{"", "gzip"} {
		tag := w.do("GET", "/static/style.css", nil, "Accept-Encoding", first).Header().Get("ETag")
		for _, then := range []string{"", "gzip"} {
			rec := w.do("GET", "/static/style.css", nil, "Accept-Encoding", then, "If-None-Match", tag)
			if rec.Code != http.StatusNotModified || rec.Body.Len() != 0 || rec.Header().Get("Content-Encoding") != "" {
				t.Errorf("kept as %q, asked as %q: %d, %d bytes, encoding %q", first, then, rec.Code, rec.Body.Len(), rec.Header().Get("Content-Encoding"))
			}
		}
	}
	plain, packed := w.do("GET", "/static/style.css", nil), w.do("GET", "/static/style.css", nil, "Accept-Encoding", "gzip")
	if tag := plain.Header().Get("ETag"); tag[:2] != "W/" && tag == packed.Header().Get("ETag") {
		t.Errorf("two sequences of bytes have the one strong tag %s", tag) // RFC 9110, section 8.8.1
	}
}

func TestEventsAreNotCompressed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := dashboards.New(dashboards.Options{View: func() fold.View { return fold.View{} }, Changed: func() int64 { return 7 }})
		ctx, cancel := context.WithCancel(t.Context())
		defer cancel()
		r := newRequest("GET", "/events").WithContext(ctx)
		r.Header.Set("Accept-Encoding", "gzip")
		rec := httptest.NewRecorder()
		go h.ServeHTTP(rec, r)
		time.Sleep(time.Second)
		synctest.Wait()
		if got := rec.Body.String(); got != "retry: 5000\nid: 7\nevent: at\ndata: 7\n\n" || !rec.Flushed || rec.Header().Get("Content-Encoding") != "" {
			t.Errorf("after a second: %q, flushed %t, encoding %q", got, rec.Flushed, rec.Header().Get("Content-Encoding"))
		}
	})
}
