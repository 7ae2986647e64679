package mail

import (
	"bufio"
	"bytes"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/json"
	"encoding/pem"
	"io"
	"math/big"
	"net"
	"net/mail"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/notify"
	"heaterd/alerts/outcome"
)

// post is one message as the server took it.
type post struct {
	From string
	To   []string
	Data string
	TLS  bool
	User string
}

type server struct {
	port  string
	trust *tls.Config
	taken chan post
}

// start runs a real SMTP server: how is starttls, smtps or plain. Without it
// the test is skipped, or fails where CI is set.
func start(t *testing.T, how string) *server {
	t.Helper()
	python := interpreter(t)
	s := &server{taken: make(chan post, 16)}
	cert, key := "-", "-"
	if how != "plain" {
		cert, key, s.trust = certificate(t)
	}
	cmd := exec.Command(python, filepath.Join("testdata", "server.py"), cert, key, how)
	var complaints bytes.Buffer
	cmd.Stderr = &complaints
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = cmd.Process.Kill(); _ = cmd.Wait() })
	lines := bufio.NewScanner(out)
	lines.Buffer(nil, 1<<20)
	if !lines.Scan() {
		t.Fatalf("the server did not start: %s", complaints.String())
	}
	s.port = lines.Text()
	go func() {
		for lines.Scan() {
			var p post
			if json.Unmarshal(lines.Bytes(), &p) == nil {
				s.taken <- p
			}
		}
	}()
	return s
}

func interpreter(t *testing.T) string {
	t.Helper()
	for _, python := range []string{"/usr/bin/python3", "python3"} {
		if exec.Command(python, "-c", "import aiosmtpd").Run() == nil {
			return python
		}
	}
	if os.Getenv("CI") == "true" {
		t.Fatal("python3-aiosmtpd is not installed")
	}
	t.Skip("python3-aiosmtpd is not installed")
	return ""
}

func certificate(t *testing.T) (cert, key string, trust *tls.Config) {
	t.Helper()
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	plan := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "test"}, IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), IsCA: true, BasicConstraintsValid: true,
	}
	der, err := x509.CreateCertificate(rand.Reader, plan, plan, private.Public(), private)
	if err != nil {
		t.Fatal(err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(private)
	if err != nil {
		t.Fatal(err)
	}
	pool := x509.NewCertPool()
	parsed, _ := x509.ParseCertificate(der)
	pool.AddCert(parsed)
	trust = &tls.Config{RootCAs: pool, ServerName: "127.0.0.1", MinVersion: tls.VersionTLS12}
	return file(t, "cert.pem", "CERTIFICATE", der), file(t, "key.pem", "PRIVATE KEY", secret), trust
}

func file(t *testing.T, name, kind string, der []byte) string {
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: der}), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func (s *server) sender(t *testing.T, scheme string, change func(*notify.Channel)) *Sender {
	t.Helper()
	c := notify.Channel{ID: "letters", Kind: notify.Mail, URL: scheme + "://127.0.0.1:" + s.port, From: "heaterd <heaterd@heaters.example>"}
	if change != nil {
		change(&c)
	}
	out, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	out.trust = s.trust
	return out
}

func (s *server) next(t *testing.T) (post, *mail.Message) {
	t.Helper()
	select {
	case p := <-s.taken:
		m, err := mail.ReadMessage(strings.NewReader(p.Data))
		if err != nil {
			t.Fatal(err)
		}
		return p, m
	case <-time.After(10 * time.Second):
		t.Fatal("nothing arrived")
		return post{}, nil
	}
}

func message() notify.Message {
	return notify.Message{
		ID: "m-abc", Kind: notify.Raised, Channel: "letters", Person: "mo", Address: "mo@example.org", Priority: alarm.Critical,
		Alarm: &outcome.Alarm{ID: "H-07.co-ceiling.1"}, Subject: "CRITICAL: CO at the ceiling, Höhle",
		Text: "1. The site's procedure\n", HTML: "<!DOCTYPE html><p>1. The site's procedure</p>",
	}
}

func TestSendsOverTLS(t *testing.T) {
	for _, scheme := range []string{"smtp", "smtps"} {
		t.Run(scheme, func(t *testing.T) {
			s := start(t, map[string]string{"smtp": "starttls", "smtps": "smtps"}[scheme])
			sender := s.sender(t, scheme, func(c *notify.Channel) { c.User, c.Secret = "heaterd", []byte("open sesame") })
			if err := sender.Send(context.Background(), message()); err != nil {
				t.Fatal(err)
			}
			p, m := s.next(t)
			if scheme == "smtp" && !p.TLS || p.User != "heaterd" || p.From != "heaterd@heaters.example" || len(p.To) != 1 || p.To[0] != "mo@example.org" {
				t.Errorf("%+v", p)
			}
			checkHead(t, m)
			body, _ := io.ReadAll(m.Body)
			for _, part := range []string{"text/plain", "text/html", "1. The site's procedure"} {
				if !strings.Contains(string(body), part) {
					t.Errorf("no %s in\n%s", part, body)
				}
			}
		})
	}
}

func checkHead(t *testing.T, m *mail.Message) {
	t.Helper()
	for name, want := range map[string]string{
		"Message-Id": "<m-abc@heaters.example>", "Auto-Submitted": "auto-generated",
		"References": m.Header.Get("In-Reply-To"), "Importance": "high",
	} {
		if got := m.Header.Get(name); got != want || got == "" {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
	}
	if !strings.Contains(m.Header.Get("Subject"), "=?UTF-8?") {
		t.Errorf("subject %q", m.Header.Get("Subject"))
	}
}

// Attempts have one id, and all about one alarm are in one thread.
func TestThreads(t *testing.T) {
	s := start(t, "plain")
	sender := s.sender(t, "smtp", func(c *notify.Channel) { c.Insecure = true })
	end := message()
	end.ID, end.Kind = "m-def", notify.Ended
	other := message()
	other.Alarm = &outcome.Alarm{ID: "H-07.co-ceiling.2"}
	var ids, threads []string
	for _, m := range []notify.Message{message(), message(), end, other} {
		if err := sender.Send(context.Background(), m); err != nil {
			t.Fatal(err)
		}
		_, got := s.next(t)
		ids, threads = append(ids, got.Header.Get("Message-Id")), append(threads, got.Header.Get("References"))
	}
	if ids[0] != ids[1] || ids[1] == ids[2] {
		t.Errorf("ids %q", ids)
	}
	if threads[0] != threads[2] || threads[2] == threads[3] {
		t.Errorf("threads %q", threads)
	}
}

func TestNothingGoesUnencryptedUnlessSaid(t *testing.T) {
	s := start(t, "plain")
	if err := s.sender(t, "smtp", nil).Send(context.Background(), message()); err == nil || notify.IsPermanent(err) {
		t.Errorf("sent: %v", err)
	}
	loose := s.sender(t, "smtp", func(c *notify.Channel) { c.Insecure, c.User, c.Secret = true, "heaterd", []byte("open sesame") })
	if err := loose.Send(context.Background(), message()); err != nil {
		t.Fatal(err)
	}
	if p, _ := s.next(t); p.TLS || p.User != "heaterd" {
		t.Errorf("%+v", p)
	}
}

func TestUnknownCertificateIsRefused(t *testing.T) {
	s := start(t, "starttls")
	s.trust = nil
	if err := s.sender(t, "smtp", nil).Send(context.Background(), message()); err == nil || notify.IsPermanent(err) {
		t.Errorf("%v", err)
	}
}

func TestWhatARefusalMeans(t *testing.T) {
	s := start(t, "starttls")
	login := func(secret string) func(*notify.Channel) {
		return func(c *notify.Channel) { c.User, c.Secret = "heaterd", []byte(secret) }
	}
	for _, c := range []struct {
		to        string
		change    func(*notify.Channel)
		permanent bool
	}{
		{"unknown@example.org", login("open sesame"), true},
		{"later@example.org", login("open sesame"), false},
		{"mo@example.org", login("wrong"), false},
		{"", login("open sesame"), true},
		{"mo@example.org\r\nBcc: all@example.org", login("open sesame"), true},
	} {
		m := message()
		m.Address = c.to
		err := s.sender(t, "smtp", c.change).Send(context.Background(), m)
		if err == nil || notify.IsPermanent(err) != c.permanent {
			t.Errorf("to %q: %v, permanent should be %v", c.to, err, c.permanent)
		}
		if err != nil && strings.Contains(err.Error(), "sesame") {
			t.Errorf("%v says the password", err)
		}
	}
}

// One address that is refused keeps the message from nobody else, and who had
// it has it once, however often the rest is tried.
func TestARefusedAddressKeepsItFromNobodyElse(t *testing.T) {
	for _, c := range []struct {
		to        []string
		had       string
		permanent bool
	}{
		{[]string{"mo@example.org", "unknown@example.org", "jo@example.org"}, "mo@example.org jo@example.org", true},
		{[]string{"later@example.org", "mo@example.org"}, "mo@example.org", false},
		{[]string{"later@example.org", "mo@example.org", "unknown@example.org"}, "mo@example.org", false},
	} {
		s := start(t, "plain")
		sender := s.sender(t, "smtp", func(n *notify.Channel) { n.Insecure, n.To = true, c.to })
		m := message()
		m.Address = ""
		tries := 3
		if c.permanent {
			tries = 1
		}
		for range tries {
			if err := sender.Send(context.Background(), m); err == nil || notify.IsPermanent(err) != c.permanent {
				t.Errorf("to %q: %v, permanent should be %v", c.to, err, c.permanent)
			}
		}
		m.ID, m.Address = "m-end", "end@example.org"
		if err := sender.Send(context.Background(), m); err != nil {
			t.Fatal(err)
		}
		var had []string
		for p, _ := s.next(t); p.To[0] != "end@example.org"; p, _ = s.next(t) {
			had = append(had, p.To...)
		}
		if got := strings.Join(had, " "); got != c.had {
			t.Errorf("to %q: %q had it, want %q", c.to, got, c.had)
		}
	}
}

func TestServerThatIsNotThere(t *testing.T) {
	s := &server{port: "1"}
	if err := s.sender(t, "smtp", nil).Send(context.Background(), message()); err == nil || notify.IsPermanent(err) {
		t.Errorf("%v", err)
	}
	for _, bad := range []string{"", "http://mail", "smtp://", "smtp://host:x"} {
		if _, err := New(notify.Channel{URL: bad, From: "a@b.example"}); err == nil {
			t.Errorf("%q was taken", bad)
		}
	}
	if _, err := New(notify.Channel{URL: "smtp://host", From: "nobody"}); err == nil {
		t.Error("an odd sender was taken")
	}
}
