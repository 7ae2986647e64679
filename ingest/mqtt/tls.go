package mqtt

import (
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"os"
)

// TLS names the files of a secured connection. They are read for every
// connect, so renewed certificates need no restart.
type TLS struct {
	CAFile     string // authorities to trust instead of the system's
	CertFile   string // this client's certificate; with KeyFile
	KeyFile    string
	ServerName string // name to expect where it differs from the address
}

// ErrNoCertificates is returned for a CA file without any.
var ErrNoCertificates = errors.New("no certificates in the file")

func (t TLS) load() (*tls.Config, error) {
	c := &tls.Config{MinVersion: tls.VersionTLS12, ServerName: t.ServerName}
	if t.CAFile != "" {
		pem, err := os.ReadFile(t.CAFile)
		if err != nil {
			return nil, fmt.Errorf("cannot read the broker's authorities: %w", err)
		}
		c.RootCAs = x509.NewCertPool()
		if !c.RootCAs.AppendCertsFromPEM(pem) {
			return nil, fmt.Errorf("cannot use %s: %w", t.CAFile, ErrNoCertificates)
		}
	}
	if t.CertFile == "" {
		return c, nil
	}
	pair, err := tls.LoadX509KeyPair(t.CertFile, t.KeyFile)
	if err != nil {
		return nil, fmt.Errorf("cannot load the client certificate: %w", err)
	}
	c.Certificates = []tls.Certificate{pair}
	return c, nil
}
