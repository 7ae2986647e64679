package mqtttest

import "testing"

func TestFreeAddrIsGivenOnce(t *testing.T) {
	given := map[string]bool{}
	for range 500 { // of 10,000: a second time is as good as sure where nothing holds them
		addr := FreeAddr(t)
		if given[addr] {
			t.Fatalf("%s was given twice", addr)
		}
		given[addr] = true
	}
}
