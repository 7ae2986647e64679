package dashboards_test

import (
	"bytes"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
)

func normal(b []byte) []byte { return bytes.ReplaceAll(b, []byte("\r\n"), []byte("\n")) }

func newRequest(method, target string) *http.Request {
	r := httptest.NewRequest(method, target, nil)
	r.Host = "localhost:8080"
	return r
}

func serve(w *world, r *http.Request) *httptest.ResponseRecorder {
	rec := httptest.NewRecorder()
	w.handler.ServeHTTP(rec, r)
	return rec
}

func readCloser(s string) io.ReadCloser { return io.NopCloser(strings.NewReader(s)) }
