package main

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"time"
)

// openPages takes the addresses of the pages and, where it has one of its
// own, of /metrics.
func (d *daemon) openPages(ctx context.Context) (err error) {
	h := d.cfg.HTTP
	if d.listen, err = listenAt(ctx, h.Listen); err != nil {
		return fmt.Errorf("cannot listen for the pages: %w", err)
	}
	if h.CertFile != "" {
		if d.listen, err = secured(d.listen, h.CertFile, h.KeyFile); err != nil {
			return fmt.Errorf("cannot use the certificate of the pages: %w", err)
		}
	}
	if h.MetricsListen == "" {
		return nil
	}
	if d.metricsListen, err = listenAt(ctx, h.MetricsListen); err != nil {
		return fmt.Errorf("cannot listen for /metrics: %w", err)
	}
	return nil
}

func listenAt(ctx context.Context, address string) (net.Listener, error) {
	var lc net.ListenConfig
	l, err := lc.Listen(ctx, "tcp", address)
	if err != nil {
		return nil, err
	}
	return behindDoor(l, maxVisitors), nil
}

// secured speaks TLS. The files are read for every connection, so a renewed
// certificate needs no restart.
func secured(l net.Listener, cert, key string) (net.Listener, error) {
	if _, err := tls.LoadX509KeyPair(cert, key); err != nil {
		return l, err
	}
	return tls.NewListener(l, &tls.Config{
		MinVersion: tls.VersionTLS12,
		NextProtos: []string{"h2", "http/1.1"},
		GetCertificate: func(*tls.ClientHelloInfo) (*tls.Certificate, error) {
			c, err := tls.LoadX509KeyPair(cert, key)
			return &c, err
		},
	}), nil
}

// address is where the pages are.
func (d *daemon) address() string {
	scheme := "http://"
	if d.cfg.HTTP.CertFile != "" {
		scheme = "https://"
	}
	return scheme + d.listen.Addr().String()
}

// serve serves the pages until ctx ends.
func (d *daemon) serve(ctx context.Context) error {
	return d.serveAt(ctx, d.listen, d.pages())
}

// serveMetrics serves /metrics on its own address, where it has one.
func (d *daemon) serveMetrics(ctx context.Context) error {
	if d.metricsListen == nil {
		<-ctx.Done()
		return nil
	}
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", d.metrics)
	return d.serveAt(ctx, d.metricsListen, mux)
}

// How long visitors are waited for; common practice, no source.
const (
	headerWait = 10 * time.Second // for a visitor to say what is wanted
	bodyWait   = time.Minute      // to say all of it
	answerWait = 5 * time.Minute  // to be answered and to take it: a year's record over a poor line; a stream has limits of its own
	idleWait   = 2 * time.Minute  // between two wishes of one connection
	partWait   = 3 * time.Second  // for visitors to be served at the end
)

func (d *daemon) serveAt(ctx context.Context, l net.Listener, h http.Handler) error {
	s := &http.Server{
		Handler: h, ReadHeaderTimeout: headerWait, ReadTimeout: bodyWait, WriteTimeout: answerWait, IdleTimeout: idleWait,
		ErrorLog:    slog.NewLogLogger(d.log.Handler(), slog.LevelWarn),
		BaseContext: func(net.Listener) context.Context { return ctx },
	}
	parted := make(chan struct{})
	context.AfterFunc(ctx, func() {
		defer close(parted)
		quit, cancel := context.WithTimeout(context.WithoutCancel(ctx), partWait)
		defer cancel()
		if s.Shutdown(quit) != nil {
			s.Close()
		}
	})
	err := s.Serve(l)
	if !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	<-parted
	return nil
}
