package config

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"slices"
	"strconv"
	"strings"
)

// othersMay are the permission bits that let anyone on the machine at a file.
const othersMay fs.FileMode = 0o007

// maxSecret bounds a secret file, bytes; longer is the wrong file.
const maxSecret = 4096

// openSecret reads a secret file with its mode.
func openSecret(path string) (fs.FileMode, []byte, error) { return open(path, maxSecret) }

func open(path string, most int64) (fs.FileMode, []byte, error) {
	info, err := os.Stat(path)
	if err != nil {
		return 0, nil, err
	}
	if !info.Mode().IsRegular() || info.Size() > most {
		return 0, nil, fmt.Errorf("%s is no file of at most %d bytes", path, most)
	}
	data, err := os.ReadFile(path)
	return info.Mode(), data, err
}

// secret reads the secret that a file holds, without the line end that
// editors add.
func (v value) secret() []byte {
	path := v.file()
	if path == "" || v.r.opts.Open == nil {
		return nil
	}
	mode, data, err := v.r.opts.Open(path)
	data = bytes.TrimRight(data, "\r\n")
	switch {
	case err != nil:
		v.absent("a file that exists and that the daemon may read", "cannot read the secret: %v", unwrapped(err, path))
	case mode&othersMay != 0:
		v.fail("a file only its owner and group can read: chmod o= "+path, "%s can be read by everyone (mode %04o)", path, mode.Perm())
	case len(data) == 0:
		v.fail("a file with the secret on its first line", "%s is empty", path)
	default:
		return data
	}
	return nil
}

// absent reports a secret or a variable that is not there, which matters
// only to commands that need it.
func (v value) absent(allowed, format string, args ...any) {
	p := v.problem(allowed, format, args...)
	v.r.missing = append(v.r.missing, p)
	v.r.warnings = append(v.r.warnings, p)
}

func unwrapped(err error, path string) error {
	if pe, ok := errors.AsType[*fs.PathError](err); ok {
		return fmt.Errorf("%s: %w", path, pe.Err)
	}
	return err
}

// written quotes a value as it stands in the file: what the environment put
// in its place may be a secret.
func (v value) written() string { return fmt.Sprintf("%q", clip(v.node.Value)) }

// address gives a URL of one of the schemes. A wrong one with an @ is not
// repeated, because a password may stand before it.
func (v value) address(schemes ...string) string {
	raw := v.expanded()
	if raw == "" {
		return ""
	}
	allowed := "an address such as " + schemes[0] + "://host:port"
	if len(schemes) > 1 {
		allowed += fmt.Sprintf(" (%s)", strings.Join(schemes, ", "))
	}
	u, err := url.Parse(raw)
	wrong := err != nil || u.Hostname() == "" || !slices.Contains(schemes, u.Scheme) || !usablePort(u)
	switch {
	case wrong && strings.Contains(raw, "@"), err == nil && u.User != nil:
		v.fail("the user and password under their own keys, the password in a file", "the address holds a user name or password")
		return ""
	case wrong:
		v.fail(allowed, "found %s", v.written())
		return ""
	}
	return raw
}

// usablePort reports whether the port of an address exists, and is given
// where the scheme has no usual one.
func usablePort(u *url.URL) bool {
	if u.Port() == "" {
		return !slices.Contains([]string{"tcp", "tls"}, u.Scheme)
	}
	n, err := strconv.ParseUint(u.Port(), 10, 16)
	return err == nil && n > 0
}
