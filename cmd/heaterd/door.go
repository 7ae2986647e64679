package main

import (
	"net"
	"sync"
)

// maxVisitors is how many connections to one address are open at a time. More
// wait at the door: who opens thousands and says nothing must not take the
// files that the store and the messages to people need. Common practice, no
// source.
const maxVisitors = 1000

// door lets in only so many at a time.
type door struct {
	net.Listener
	room   chan struct{}
	closed chan struct{}
	once   sync.Once
}

func behindDoor(l net.Listener, most int) *door {
	return &door{Listener: l, room: make(chan struct{}, most), closed: make(chan struct{})}
}

// Accept waits until there is room and somebody comes.
func (d *door) Accept() (net.Conn, error) {
	select {
	case d.room <- struct{}{}:
	case <-d.closed:
		return nil, net.ErrClosed
	}
	c, err := d.Listener.Accept()
	if err != nil {
		<-d.room
		return nil, err
	}
	return &guest{Conn: c, leave: sync.OnceFunc(func() { <-d.room })}, nil
}

// Close ends Accept, also where it waits for room.
func (d *door) Close() error {
	d.once.Do(func() { close(d.closed) })
	return d.Listener.Close()
}

// guest makes room when it leaves.
type guest struct {
	net.Conn
	leave func()
}

// Close ends the connection.
func (g *guest) Close() error {
	defer g.leave()
	return g.Conn.Close()
}
