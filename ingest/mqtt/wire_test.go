package mqtt

import (
	"errors"
	"net"
	"os"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

// pipe is a wire and its other end, in the bubble's time.
func pipe(t *testing.T) (*wire, net.Conn) {
	t.Helper()
	near, far := net.Pipe()
	t.Cleanup(func() { _, _ = near.Close(), far.Close() })
	return newWire(near), far
}

// A packet that cannot be written in time is the end of the connection, so
// that whoever reads hears of it.
func TestAWriteThatIsStuckEndsTheConnection(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w, _ := pipe(t)
		start := time.Now()
		_, err := w.Write([]byte("nobody reads this"))
		if took := time.Since(start); took != writeTimeout || !errors.Is(err, os.ErrDeadlineExceeded) {
			t.Errorf("%v after %v", err, took)
		}
		if _, err := w.Read(make([]byte, 1)); err == nil || time.Since(start) != writeTimeout {
			t.Errorf("reading goes on: %v after %v", err, time.Since(start))
		}
	})
}

// Whatever is heard is a sign of life; silence is the end, and says so.
func TestSilenceEndsTheConnection(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w, far := pipe(t)
		w.mind()
		start := time.Now()
		go func() {
			<-time.After(silence - time.Second)
			_, _ = far.Write([]byte{1})
		}()
		if n, err := w.Read(make([]byte, 1)); n != 1 || err != nil {
			t.Fatalf("%d bytes, %v", n, err)
		}
		_, err := w.Read(make([]byte, 1))
		if took := time.Since(start); took != 2*silence-time.Second || err == nil || !strings.Contains(err.Error(), "nothing was heard") {
			t.Errorf("%v after %v", err, took)
		}
	})
}
