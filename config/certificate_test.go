package config_test

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"math/big"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"heaterd/config"
)

// certificate writes a certificate and its key.
func certificate(t *testing.T, dir, name string, mode os.FileMode) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	blank := &x509.Certificate{SerialNumber: big.NewInt(1)}
	cert, err := x509.CreateCertificate(rand.Reader, blank, blank, key.Public(), key)
	if err != nil {
		t.Fatal(err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(dir, name+".pem"), string(pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: cert})), 0o644)
	write(t, filepath.Join(dir, name+".key"), string(pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: secret})), mode)
}

// A certificate that cannot be used is told before the broker is out of reach
// for it, and keeps a running daemon from taking it; what is right says nothing.
func TestCertificates(t *testing.T) {
	dir := t.TempDir()
	certificate(t, dir, "own", 0o600)
	certificate(t, dir, "other", 0o600)
	write(t, filepath.Join(dir, "empty.pem"), "nothing\n", 0o644)
	const broker = `broker: { url: "tls://broker.example.net:8883", `
	for _, c := range []struct{ name, keys, says string }{
		{"right", broker + `ca_file: own.pem, cert_file: own.pem, key_file: own.key }`, ""},
		{"named by the environment", broker + `ca_file: "${KEYS}/own.pem", cert_file: "${KEYS}/own.pem", key_file: "${KEYS}/own.key" }`, ""},
		{"another's key", broker + `cert_file: own.pem, key_file: other.key }`, "broker.cert_file: "},
		{"no key", broker + `cert_file: own.pem, key_file: none.key }`, "broker.key_file: cannot read the file: " + filepath.Join(dir, "none.key") + ": no such file"},
		{"no authority", broker + `ca_file: empty.pem }`, "broker.ca_file: " + filepath.Join(dir, "empty.pem") + " holds no certificate"},
		{"a folder", broker + `ca_file: . }`, "broker.ca_file: cannot read the file: "},
		{"another's key for the pages", `http: { tls: { cert_file: own.pem, key_file: other.key } }`, "http.tls.cert_file: "},
	} {
		t.Run(c.name, func(t *testing.T) {
			file := filepath.Join(dir, "heaterd.yaml")
			write(t, file, least+c.keys+"\n", 0o644)
			cfg, err := config.Load(file, func(name string) (string, bool) { return dir, name == "KEYS" })
			if err != nil {
				t.Fatal(err)
			}
			var wrong *config.Errors
			switch err := cfg.Fit(); {
			case c.says == "" && err != nil:
				t.Errorf("it is not taken: %v", err)
			case c.says != "" && (!errors.As(err, &wrong) || !strings.Contains(err.Error(), c.says)):
				t.Errorf("it said %v, want %q", err, c.says)
			}
			if told := strings.Contains(config.Summary(cfg), c.says); !told {
				t.Errorf("the summary does not say %q", c.says)
			}
			if err := cfg.Ready(); err != nil {
				t.Errorf("it would not even start: %v", err)
			}
		})
	}
}

func TestKeysThatOthersMayRead(t *testing.T) {
	dir := t.TempDir()
	certificate(t, dir, "own", 0o644)
	file := filepath.Join(dir, "heaterd.yaml")
	write(t, file, least+"http: { tls: { cert_file: own.pem, key_file: own.key } }\n", 0o644)
	cfg, err := config.Load(file, noEnvironment)
	if err != nil {
		t.Fatal(err)
	}
	if says := "own.key can be read by everyone (mode 0644); allowed: chmod o= "; !strings.Contains(config.Summary(cfg), says) {
		t.Errorf("the summary does not say %q:\n%s", says, config.Summary(cfg))
	}
}
