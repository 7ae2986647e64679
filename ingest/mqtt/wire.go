package mqtt

import (
	"bufio"
	"errors"
	"fmt"
	"net"
	"os"
	"sync"
	"sync/atomic"
	"time"

	"github.com/eclipse/paho.mqtt.golang/packets"
)

// readBuffer is how much of a connection is read at once, in bytes.
const readBuffer = 64 << 10

// wire is a connection as the library uses it, read in large pieces: the
// library reads a few bytes at a time, one system call each. It also writes
// acknowledgements by itself, as many at once as wait, where the library
// writes one at a time.
//
// It holds whatever is heard for a sign of life, where the library waits for
// the answer to its ping: on a slow network that comes behind all messages on
// their way, and giving up would send them all again.
type wire struct {
	net.Conn
	r       *bufio.Reader
	wake    chan struct{} // acknowledgements wait
	minding atomic.Bool   // silence ends the connection
	severed atomic.Bool

	writing sync.Mutex // held over one packet; guards spare
	spare   []byte

	mu   sync.Mutex // guards acks
	acks []byte     // packets that wait
}

func newWire(c net.Conn) *wire {
	w := &wire{Conn: c, wake: make(chan struct{}, 1)}
	w.r = bufio.NewReaderSize(ear{w}, readBuffer)
	return w
}

func (w *wire) Read(p []byte) (int, error) { return w.r.Read(p) }

// mind lets silence end the connection from now on.
func (w *wire) mind() {
	w.minding.Store(true)
	w.extend()
}

// extend allows another silence.
func (w *wire) extend() {
	if w.minding.Load() {
		_ = w.Conn.SetReadDeadline(time.Now().Add(silence))
	}
	if w.severed.Load() { // perhaps while the deadline was set
		w.sever()
	}
}

// sever ends the connection without a goodbye. It does so by a deadline, for
// the library takes a closed socket for its own doing and would not report it.
func (w *wire) sever() {
	w.severed.Store(true)
	_ = w.Conn.SetDeadline(time.Unix(1, 0))
}

// ear reads what really comes in.
type ear struct{ *wire }

func (e ear) Read(p []byte) (int, error) {
	e.extend()
	n, err := e.Conn.Read(p)
	if e.minding.Load() && !e.severed.Load() && errors.Is(err, os.ErrDeadlineExceeded) {
		err = fmt.Errorf("nothing was heard for %v: %w", silence, err)
	}
	return n, err
}

// Write writes whole packets, as the library hands them over.
func (w *wire) Write(p []byte) (int, error) {
	w.writing.Lock()
	defer w.writing.Unlock()
	return w.put(p)
}

// put writes within a time, for while it waits nobody else can write, not even
// a ping. What was written in part is the end of the connection.
func (w *wire) put(p []byte) (int, error) {
	_ = w.Conn.SetWriteDeadline(time.Now().Add(writeTimeout))
	n, err := w.Conn.Write(p)
	if err != nil {
		w.sever()
	}
	return n, err
}

// acknowledge lets a PUBACK wait for its turn (MQTT 3.1.1, 3.4).
func (w *wire) acknowledge(id uint16) {
	const puback, length = packets.Puback << 4, 2
	w.mu.Lock()
	w.acks = append(w.acks, puback, length, byte(id>>8), byte(id))
	w.mu.Unlock()
	select {
	case w.wake <- struct{}{}:
	default:
	}
}

// flush writes the acknowledgements that wait. It is of no matter whether they
// get through: without them the broker sends the messages again.
func (w *wire) flush() {
	w.writing.Lock()
	defer w.writing.Unlock()
	w.mu.Lock()
	out := w.acks
	w.acks = w.spare[:0]
	w.mu.Unlock()
	if len(out) > 0 {
		_, _ = w.put(out)
	}
	w.spare = out
}

// keepFlushing writes what waits until the connection is lost.
func (w *wire) keepFlushing(lost <-chan struct{}) {
	for {
		select {
		case <-w.wake:
			w.flush()
		case <-lost:
			return
		}
	}
}

// noStore keeps no packets: every connection begins with a fresh client, and
// the broker sends again what was not acknowledged.
type noStore struct{}

func (noStore) Open()                             {}
func (noStore) Put(string, packets.ControlPacket) {}
func (noStore) Get(string) packets.ControlPacket  { return nil }
func (noStore) All() []string                     { return nil }
func (noStore) Del(string)                        {}
func (noStore) Close()                            {}
func (noStore) Reset()                            {}
