package mqtt_test

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"math/big"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"heaterd/ingest/broker"
	"heaterd/ingest/mqtt"
	"heaterd/ingest/mqtt/mqtttest"
)

// authority signs certificates for a test.
type authority struct {
	t    *testing.T
	dir  string
	cert *x509.Certificate
	key  *ecdsa.PrivateKey
}

func newAuthority(t *testing.T, name string) *authority {
	a := &authority{t: t, dir: t.TempDir()}
	a.cert, a.key = a.sign(name, nil, nil)
	return a
}

func (a *authority) path(name string) string { return filepath.Join(a.dir, name) }

// sign writes name.crt and name.key.
func (a *authority) sign(name string, parent *x509.Certificate, by *ecdsa.PrivateKey) (*x509.Certificate, *ecdsa.PrivateKey) {
	a.t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	must(a.t, err)
	c := &x509.Certificate{
		SerialNumber: big.NewInt(time.Now().UnixNano()), Subject: pkix.Name{CommonName: name},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, BasicConstraintsValid: true, IsCA: parent == nil,
		KeyUsage: x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign,
	}
	if parent == nil {
		parent, by = c, key
	}
	der, err := x509.CreateCertificate(rand.Reader, c, parent, &key.PublicKey, by)
	must(a.t, err)
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	must(a.t, err)
	must(a.t, os.WriteFile(a.path(name+".crt"), pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), 0o600))
	must(a.t, os.WriteFile(a.path(name+".key"), pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: secret}), 0o600))
	return c, key
}

func (a *authority) issue(name string) { a.sign(name, a.cert, a.key) }

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// A client certificate is read again for every connect: one that the broker
// refuses is replaced on disk and the subscriber gets in without a restart.
func TestCertificatesAreReadForEveryConnect(t *testing.T) {
	ca, other := newAuthority(t, "ca"), newAuthority(t, "ca")
	ca.issue("server")
	other.issue("client")
	addr := mqtttest.FreeAddr(t)
	_, port, _ := net.SplitHostPort(addr)
	mqtttest.StartMosquitto(t, "listener "+port+" 127.0.0.1", "require_certificate true", "allow_anonymous true",
		"cafile "+ca.path("ca.crt"), "certfile "+ca.path("server.crt"), "keyfile "+ca.path("server.key"))
	l := link("tls://"+addr, "sub")
	l.TLS = mqtt.TLS{CAFile: ca.path("ca.crt"), CertFile: other.path("client.crt"), KeyFile: other.path("client.key")}
	s := mqtt.New(mqtt.Options{Link: l, Filters: []string{"a"}})
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- s.Run(ctx) }()
	eventually(t, func() bool { return s.Healthy() != nil && s.Healthy().Error() != "not connected to the broker" })
	if s.Connected() {
		t.Error("connected with a stranger's certificate")
	}
	ca.issue("client")
	for _, ext := range []string{".crt", ".key"} {
		must(t, os.Rename(ca.path("client"+ext), other.path("client"+ext)))
	}
	eventually(t, s.Connected)
	cancel()
	must(t, <-done)
	l.TLS.CAFile = other.path("ca.crt")
	if err := mqtt.NewPublisher(l).Publish(within(t), "a", nil, false); err == nil {
		t.Error("connected to a broker of another authority")
	}
	l.TLS.CAFile = ca.path("server.key")
	if err := mqtt.NewPublisher(l).Publish(within(t), "a", nil, false); !errors.Is(err, mqtt.ErrNoCertificates) {
		t.Errorf("a file without certificates: %v", err)
	}
}

func TestWebsocket(t *testing.T) {
	addr := mqtttest.FreeAddr(t)
	_, port, _ := net.SplitHostPort(addr)
	mqtttest.StartMosquitto(t, "listener "+port+" 127.0.0.1", "protocol websockets", "allow_anonymous true")
	url := "ws://" + addr + "/mqtt"
	s := subscribe(t, mqtt.Options{Link: link(url, "sub"), Filters: []string{"a"}})
	publish(t, publisher(t, url, "pub"), "a", 0, 50)
	take(t, s, 50, true)
}

func TestRefusedFilterIsTold(t *testing.T) {
	b, err := broker.Start(t.Context(), broker.Options{Dir: t.TempDir(), Log: quiet,
		Users: []broker.User{{Name: "u", Password: "p", Publish: []string{"#"}, Subscribe: []string{"mine/#"}}}})
	must(t, err)
	t.Cleanup(func() { _ = b.Close(context.Background()) })
	l := link(b.URL(), "sub")
	l.Username, l.Password = "u", "p"
	s := subscribe(t, mqtt.Options{Link: l, Filters: []string{"mine/+", "others/+"}})
	if err := s.Healthy(); !errors.Is(err, mqtt.ErrRefused) {
		t.Errorf("health %v", err)
	}
	l.ClientID = "pub"
	p := mqtt.NewPublisher(l)
	defer p.Close()
	publish(t, p, "mine/x", 0, 1)
	take(t, s, 1, true)
}

// The shipped access list: a node speaks only for itself, heaterd hears all
// and writes only its own.
func TestShippedAccessList(t *testing.T) {
	passwords := filepath.Join(t.TempDir(), "passwords")
	must(t, os.WriteFile(passwords, []byte("heaterd:h\nquay:q\n"), 0o600))
	if out, err := exec.Command("mosquitto_passwd", "-U", passwords).CombinedOutput(); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("mosquitto_passwd: %v %s", err, out)
		}
		t.Skip("mosquitto_passwd is not installed")
	}
	acl, err := filepath.Abs("../../testdata/mosquitto/acl")
	must(t, err)
	addr := mqtttest.FreeAddr(t)
	_, port, _ := net.SplitHostPort(addr)
	mqtttest.StartMosquitto(t, "per_listener_settings false", "password_file "+passwords, "acl_file "+acl, "listener "+port+" 127.0.0.1")
	as := func(id, name, password string) mqtt.Link {
		l := link("tcp://"+addr, id)
		l.Username, l.Password = name, password
		return l
	}
	s := subscribe(t, mqtt.Options{Link: as("heaterd", "heaterd", "h"), Filters: []string{"sites/#", "heaterd/alarms/+/acknowledge"}})
	node := mqtt.NewPublisher(as("n-07", "quay", "q"))
	defer node.Close()
	for _, topic := range []string{
		"sites/quay/nodes/n-08/telemetry", "sites/dock/nodes/n-07/telemetry", "sites/quay/nodes/n-07/command",
		"sites/quay/nodes/n-07/status", "sites/quay/nodes/n-07/telemetry",
	} {
		must(t, node.Publish(within(t), topic, []byte(topic), false)) // acknowledged and dropped where it may not
	}
	daemon := mqtt.NewPublisher(as("heaterd-alarms", "heaterd", "h"))
	defer daemon.Close()
	must(t, daemon.Publish(within(t), "sites/quay/nodes/n-07/telemetry", []byte("forged"), false))
	must(t, node.Publish(within(t), "heaterd/alarms/a/acknowledge", []byte("not by a node"), false))
	must(t, daemon.Publish(within(t), "heaterd/alarms/a/acknowledge", []byte("mara"), false))
	must(t, node.Publish(within(t), "sites/quay/nodes/n-07/telemetry", []byte("last"), false))
	want := []string{"sites/quay/nodes/n-07/status", "sites/quay/nodes/n-07/telemetry", "mara", "last"}
	if got := take(t, s, 4, true); !slices.Equal(got, want) {
		t.Errorf("came %v", got)
	}
}
