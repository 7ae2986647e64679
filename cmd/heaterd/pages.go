package main

import (
	"net/http"
)

// pages is everything served over HTTP.
func (d *daemon) pages() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /livez", func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusOK) })
	return mux
}
