package config

import (
	"crypto/tls"
	"crypto/x509"
	"io/fs"
)

// maxPEM bounds a file of certificates, bytes: the authorities of a whole
// system are some 200 kB. Common practice, no source.
const maxPEM = 4 << 20

func openPEM(path string) (fs.FileMode, []byte, error) { return open(path, maxPEM) }

// pem gives what a file of certificates, or of a key, holds, with its mode.
func (v value) pem(path string) (mode fs.FileMode, data []byte, ok bool) {
	if path == "" || v.r.opts.PEM == nil {
		return 0, nil, false
	}
	mode, data, err := v.r.opts.PEM(path)
	if err != nil {
		v.unfit("a PEM file that exists and that the daemon may read", "cannot read the file: %v", unwrapped(err, path))
	}
	return mode, data, err == nil
}

// authorities gives the path of a file of certificates that may vouch for
// others, and reports one that holds none.
func (v value) authorities() string {
	path := v.file()
	if _, data, ok := v.pem(path); ok && !x509.NewCertPool().AppendCertsFromPEM(data) {
		v.unfit("a PEM file with certificates", "%s holds no certificate", path)
	}
	return path
}

// pair reports a certificate and a key that cannot be used together.
func (t *table) pair(certFile, keyFile string) {
	if certFile == "" || keyFile == "" {
		return
	}
	_, cert, one := t.get("cert_file").pem(certFile)
	mode, key, other := t.get("key_file").pem(keyFile)
	if other && mode&othersMay != 0 {
		t.get("key_file").warn("chmod o= "+keyFile, "%s can be read by everyone (mode %04o)", keyFile, mode.Perm())
	}
	if !one || !other {
		return
	}
	if _, err := tls.X509KeyPair(cert, key); err != nil {
		t.get("cert_file").unfit("a PEM certificate and, under key_file, its own key", "%s and %s cannot be used together: %v", certFile, keyFile, err)
	}
}

// unfit reports a certificate that cannot be used now. The file may be right
// all the same: certificates come and go while the daemon runs.
func (v value) unfit(allowed, format string, args ...any) {
	p := v.problem(allowed, format, args...)
	v.r.unfit = append(v.r.unfit, p)
	v.r.warnings = append(v.r.warnings, p)
}
