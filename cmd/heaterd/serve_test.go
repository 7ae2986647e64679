package main

import (
	"context"
	"io"
	"net"
	"net/http"
	"testing"
	"testing/synctest"
	"time"
)

// oneVisitor is a listener that one visitor comes to.
type oneVisitor struct {
	visitor chan net.Conn
	closed  chan struct{}
}

func (l *oneVisitor) Accept() (net.Conn, error) {
	select {
	case c := <-l.visitor:
		return c, nil
	case <-l.closed:
		return nil, net.ErrClosed
	}
}

func (l *oneVisitor) Close() error   { close(l.closed); return nil }
func (l *oneVisitor) Addr() net.Addr { return &net.TCPAddr{} }

// TestVisitorWhoTakesNothingIsLetGo asks for a page and never reads it: such
// connections would pile up until the daemon has none left for its store.
func TestVisitorWhoTakesNothingIsLetGo(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, stop := context.WithCancel(t.Context())
		l := &oneVisitor{make(chan net.Conn, 1), make(chan struct{})}
		theirs, ours := net.Pipe()
		l.visitor <- ours
		d := &daemon{log: silent}
		let := make(chan struct{})
		done := make(chan error)
		go func() {
			done <- d.serveAt(ctx, l, http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
				defer close(let)
				for range 1000 {
					if _, err := w.Write(make([]byte, 64<<10)); err != nil {
						return
					}
				}
			}))
		}()
		if _, err := io.WriteString(theirs, "GET / HTTP/1.1\r\nHost: localhost\r\n\r\n"); err != nil {
			t.Fatal(err)
		}
		select {
		case <-let:
		case <-time.After(time.Hour):
			t.Error("an hour later it is still waited for")
		}
		theirs.Close()
		stop()
		if err := <-done; err != nil {
			t.Error(err)
		}
	})
}
