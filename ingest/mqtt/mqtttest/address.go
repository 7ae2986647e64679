package mqtttest

import (
	"fmt"
	"math/rand/v2"
	"net"
	"testing"
)

// FreeAddr gives a host and port of loopback that nobody listens on, and
// that nobody else is given until the test ends, in this process or another:
// a server that two tests took for theirs would mix what they publish.
//
// The port is below those that systems give to connections by themselves
// (from 32768 on, on Linux), and is held meanwhile by its number for UDP,
// which no server of the tests uses.
func FreeAddr(t testing.TB) string {
	t.Helper()
	for range 1000 {
		addr := fmt.Sprintf("127.0.0.1:%d", 20000+rand.IntN(10000)) // #nosec G404 -- a port is no secret
		held, err := net.ListenPacket("udp", addr)
		if err != nil {
			continue
		}
		l, err := net.Listen("tcp", addr)
		if err != nil {
			_ = held.Close()
			continue
		}
		_ = l.Close()
		t.Cleanup(func() { _ = held.Close() })
		return addr
	}
	t.Fatal("no port of loopback is free between 20000 and 29999")
	return ""
}
