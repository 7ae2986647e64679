package mqtttest

import (
	"net"
	"sync"
	"testing"
	"time"
)

// Fault is what is wrong with a Network. Zero is a good one.
type Fault struct {
	Delay time.Duration // each way
	Rate  int           // bytes a second, each way; 0: no limit

	// Black swallows everything without a word, and for good on connections
	// that were there meanwhile: as where a router forgot them.
	Black bool

	// CutAfter ends every connection that begins after so many bytes to the
	// client, wherever in a packet that is; 0: never.
	CutAfter int
}

// Network is a stretch of network between clients and a server.
type Network struct {
	to       string
	listener net.Listener

	mu    sync.Mutex // guards what follows
	fault Fault
	lines map[*line]bool
	made  int // connections, so far
}

// StartNetwork leads to a server's host and port until the test ends.
func StartNetwork(t testing.TB, to string) *Network {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	n := &Network{to: to, listener: l, lines: map[*line]bool{}}
	var accepting sync.WaitGroup
	accepting.Go(n.accept)
	t.Cleanup(func() {
		_ = l.Close()
		accepting.Wait()
		n.Cut()
	})
	return n
}

// URL is where clients connect.
func (n *Network) URL() string { return "tcp://" + n.listener.Addr().String() }

// Made counts the connections that clients have made so far.
func (n *Network) Made() int {
	n.mu.Lock()
	defer n.mu.Unlock()
	return n.made
}

// Set makes the network so from now on.
func (n *Network) Set(f Fault) {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.fault = f
	for l := range n.lines {
		l.black = l.black || f.Black
	}
}

// Cut ends all connections.
func (n *Network) Cut() {
	n.mu.Lock()
	lines := n.lines
	n.lines = map[*line]bool{}
	n.mu.Unlock()
	for l := range lines {
		l.cut()
	}
}

func (n *Network) accept() {
	for {
		c, err := n.listener.Accept()
		if err != nil {
			return
		}
		n.connect(c)
	}
}

// connect leads a connection on; where all is black it leads nowhere.
func (n *Network) connect(client net.Conn) {
	n.mu.Lock()
	defer n.mu.Unlock()
	l := &line{network: n, client: client, black: n.fault.Black, left: n.fault.CutAfter, ended: make(chan struct{})}
	n.lines[l] = true
	n.made++
	if l.black {
		go l.carry(client, nil, false)
		return
	}
	server, err := net.Dial("tcp", n.to)
	if err != nil {
		_ = client.Close()
		return
	}
	l.server = server
	go l.carry(client, server, false)
	go l.carry(server, client, true)
}

// line is one connection.
type line struct {
	network        *Network
	client, server net.Conn // server is nil where it leads nowhere
	once           sync.Once
	ended          chan struct{}

	black bool // guarded by the network
	left  int  // bytes to the client until it is cut; 0: never; used by one carry
}

func (l *line) cut() {
	l.once.Do(func() {
		close(l.ended)
		_ = l.client.Close()
		if l.server != nil {
			_ = l.server.Close()
		}
	})
}

// state is how the network is to this connection now.
func (l *line) state() Fault {
	l.network.mu.Lock()
	defer l.network.mu.Unlock()
	f := l.network.fault
	f.Black = l.black
	return f
}

// piece is part of what was sent, and when it arrives.
type piece struct {
	bytes []byte
	due   time.Time
}

// pieceSize is small enough for a slow network to be smooth, in bytes; pieces
// are what a network holds.
const (
	pieceSize = 512
	pieces    = 4096
)

// carry takes what one end sends to the other.
func (l *line) carry(from, to net.Conn, toClient bool) {
	under := make(chan piece, pieces)
	defer close(under)
	go l.deliver(under, to, toClient)
	for {
		b := make([]byte, pieceSize)
		n, err := from.Read(b)
		f := l.state()
		switch {
		case f.Black && err != nil:
			return // the other end hears nothing of it
		case f.Black:
			continue
		case err != nil:
			return
		}
		select {
		case under <- piece{b[:n], time.Now().Add(f.Delay)}:
		case <-l.ended:
			return
		}
	}
}

// deliver hands over what is due, and the end after it.
func (l *line) deliver(under <-chan piece, to net.Conn, toClient bool) {
	for p := range under {
		if !l.wait(time.Until(p.due)) || l.state().Black {
			continue
		}
		b, last := p.bytes, false
		if toClient && l.left > 0 {
			last = len(b) >= l.left
			b = b[:min(len(b), l.left)]
			l.left -= len(b)
		}
		_, err := to.Write(b)
		if last || err != nil {
			l.cut()
			continue
		}
		if rate := l.state().Rate; rate > 0 {
			l.wait(time.Duration(len(b)) * time.Second / time.Duration(rate))
		}
	}
	if !l.state().Black {
		l.cut()
	}
}

// wait gives false where the connection ends first.
func (l *line) wait(d time.Duration) bool {
	select {
	case <-l.ended:
		return false
	default:
	}
	if d <= 0 {
		return true
	}
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return true
	case <-l.ended:
		return false
	}
}
