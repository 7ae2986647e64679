package access_test

import (
	"bytes"
	"log/slog"
	"net/netip"
	"strings"
	"testing"
	"time"

	"heaterd/dashboards/access"
)

// TestFailedAttemptsAreTold guesses passwords and tokens: the log says from
// where, and nothing of what was sent.
func TestFailedAttemptsAreTold(t *testing.T) {
	var said bytes.Buffer
	g := access.New(access.Options{
		Users: []access.User{{Name: "kim", Role: access.Viewer, Bcrypt: hash(t, "one")}}, Secret: []byte("s"),
		Now: func() time.Time { return start }, Log: slog.New(slog.NewTextHandler(&said, nil)),
	})
	if _, err := g.SignIn(request("192.0.2.1:1"), "kim", "one"); err != nil || said.Len() > 0 {
		t.Fatalf("the right password: %v\n%s", err, said.String())
	}
	_, _ = g.SignIn(request("192.0.2.1:1"), "kim", "hunter2")
	_, _ = g.SignIn(request("192.0.2.2:1"), "hunter2", "")
	r := request("192.0.2.3:1")
	r.Header.Set("Authorization", "Bearer hunter2")
	g.Who(r)
	for _, want := range []string{"from=192.0.2.1 by=password", "user=kim", "from=192.0.2.2 by=password", "from=192.0.2.3 by=token"} {
		if !strings.Contains(said.String(), want) {
			t.Errorf("no %q in the log", want)
		}
	}
	if strings.Contains(said.String(), "hunter2") {
		t.Error("the log repeats what was sent")
	}
	t.Log(said.String())
}

// TestAFloodOfAttemptsFloodsNoLog counts what is not told.
func TestAFloodOfAttemptsFloodsNoLog(t *testing.T) {
	var said bytes.Buffer
	now := start
	g := access.New(access.Options{Now: func() time.Time { return now }, Log: slog.New(slog.NewTextHandler(&said, nil))})
	guess := func(n int) {
		for i := range n {
			r := request(netip.AddrFrom4([4]byte{192, 0, byte(i >> 8), byte(i)}).String() + ":1")
			r.Header.Set("Authorization", "Bearer guess")
			g.Who(r)
		}
	}
	guess(1000)
	now = now.Add(time.Minute)
	guess(1)
	if n := strings.Count(said.String(), "\n"); n != 21 || !strings.Contains(said.String(), "untold_before=980") {
		t.Errorf("%d lines, the last of them: %s", n, said.String()[strings.LastIndex(strings.TrimSpace(said.String()), "\n"):])
	}
}
