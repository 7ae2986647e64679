package main

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"io"
	"math/big"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"testing"
	"time"

	"heaterd/config"
)

// certificate writes a self-signed certificate for loopback.
func certificate(t *testing.T) (cert, key string) {
	t.Helper()
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{
		SerialNumber: big.NewInt(1), NotAfter: time.Now().Add(time.Hour),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
	}
	raw, err := x509.CreateCertificate(rand.Reader, template, template, &private.PublicKey, private)
	if err != nil {
		t.Fatal(err)
	}
	pkcs, err := x509.MarshalPKCS8PrivateKey(private)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	cert, key = filepath.Join(dir, "cert.pem"), filepath.Join(dir, "key.pem")
	for path, block := range map[string]*pem.Block{cert: {Type: "CERTIFICATE", Bytes: raw}, key: {Type: "PRIVATE KEY", Bytes: pkcs}} {
		if err := os.WriteFile(path, pem.EncodeToMemory(block), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return cert, key
}

func TestPagesSpeakTLSAndMetricsHaveTheirOwnAddress(t *testing.T) {
	cert, key := certificate(t)
	dir := t.TempDir()
	cfg, err := config.Load(filepath.Join("..", "..", "testdata", "quick.yaml"), os.LookupEnv)
	if err != nil {
		t.Fatal(err)
	}
	cfg.Store.Path, cfg.Broker = filepath.Join(dir, "t.db"), nil
	cfg.Embedded = config.Embedded{Dir: filepath.Join(dir, "broker"), Host: "127.0.0.1"}
	cfg.HTTP = config.HTTP{Listen: "127.0.0.1:0", MetricsListen: "127.0.0.1:0", CertFile: cert, KeyFile: key}
	d := &daemon{cfg: cfg, log: discard()}
	ctx, stop := context.WithCancel(t.Context())
	if err := d.open(ctx); err != nil {
		t.Fatal(err)
	}
	done := make(chan error, 1)
	go func() { done <- d.runAndClose(ctx) }()
	client := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true}}} //nolint:gosec // a certificate made for this test
	for _, url := range []string{d.address() + "/livez", "http://" + d.metricsListen.Addr().String() + "/metrics"} {
		resp, err := client.Get(url)
		if err != nil {
			t.Fatal(err)
		}
		io.Copy(io.Discard, resp.Body)
		resp.Body.Close()
		if resp.StatusCode != http.StatusOK {
			t.Errorf("%s: %s", url, resp.Status)
		}
	}
	client.CloseIdleConnections()
	stop()
	if err := <-done; err != nil {
		t.Error(err)
	}
}
