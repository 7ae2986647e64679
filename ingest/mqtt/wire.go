package mqtt

import (
	"bufio"
	"net"
	"sync"

	"github.com/eclipse/paho.mqtt.golang/packets"
)

// readBuffer is how much of a connection is read at once, in bytes.
const readBuffer = 64 << 10

// wire is a connection as the library uses it, read in large pieces: the
// library reads a few bytes at a time, one system call each. It also writes
// acknowledgements by itself, as many at once as wait, where the library
// writes one at a time.
type wire struct {
	net.Conn
	r    *bufio.Reader
	wake chan struct{} // acknowledgements wait

	writing sync.Mutex // held over one packet; guards spare
	spare   []byte

	mu   sync.Mutex // guards acks
	acks []byte     // packets that wait
}

func newWire(c net.Conn) *wire {
	return &wire{Conn: c, r: bufio.NewReaderSize(c, readBuffer), wake: make(chan struct{}, 1)}
}

func (w *wire) Read(p []byte) (int, error) { return w.r.Read(p) }

// Write writes whole packets, as the library hands them over.
func (w *wire) Write(p []byte) (int, error) {
	w.writing.Lock()
	defer w.writing.Unlock()
	return w.Conn.Write(p)
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
		_, _ = w.Conn.Write(out)
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
