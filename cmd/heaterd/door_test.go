package main

import (
	"errors"
	"net"
	"testing"
	"testing/synctest"
)

// come has somebody come to a listener, once it lets anybody in.
func come(l net.Listener) (c chan net.Conn, failed chan error) {
	c, failed = make(chan net.Conn, 1), make(chan error, 1)
	go func() {
		got, err := l.Accept()
		if err != nil {
			failed <- err
			return
		}
		c <- got
	}()
	return c, failed
}

func TestDoorLetsInOnlySoMany(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		all := &oneVisitor{make(chan net.Conn, 4), make(chan struct{})}
		for range 4 {
			_, ours := net.Pipe()
			all.visitor <- ours
		}
		l := behindDoor(all, 2)
		first, _ := come(l)
		second, _ := come(l)
		synctest.Wait()
		one := <-first
		<-second
		third, _ := come(l)
		synctest.Wait()
		if len(third) != 0 {
			t.Fatal("a third was let in beside two")
		}
		one.Close()
		one.Close() // makes room once
		synctest.Wait()
		if len(third) != 1 {
			t.Fatal("nobody was let in for the one who left")
		}
		fourth, failed := come(l)
		synctest.Wait()
		if len(fourth) != 0 {
			t.Fatal("one who left twice made room for two")
		}
		l.Close()
		synctest.Wait()
		if err := <-failed; !errors.Is(err, net.ErrClosed) {
			t.Errorf("who waited when it closed: %v", err)
		}
	})
}
