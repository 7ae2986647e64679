package config

import (
	"encoding/hex"
	"net"
	"net/netip"
	"regexp"

	"golang.org/x/crypto/bcrypt"

	"heaterd/dashboards/access"
)

const (
	defaultHTTP = "127.0.0.1:8080"
	roleAllowed = "viewer, technician, safety"
)

var headerShape = regexp.MustCompile(`^[A-Za-z0-9-]{1,64}$`)

func readHTTP(v value) HTTP {
	t := v.table()
	h := HTTP{
		Listen:        t.get("listen").listen(defaultHTTP),
		MetricsListen: t.get("metrics_listen").listen(""),
		ProxyHeader:   t.get("proxy_header").line(""),
	}
	h.Users = readUsers(t.get("users"), t.has("proxy_header"))
	h.Tokens = readTokens(t.get("tokens"))
	for _, item := range t.get("trusted_proxies").list("addresses or networks such as 10.0.0.0/8") {
		h.TrustedProxies = append(h.TrustedProxies, item.network())
	}
	tls := t.get("tls").table()
	h.CertFile = tls.need("cert_file", "a PEM file").file()
	h.KeyFile = tls.need("key_file", "a PEM file").file()
	tls.pair(h.CertFile, h.KeyFile)
	tls.close()
	checkHTTP(t, h)
	t.close()
	return h
}

func checkHTTP(t *table, h HTTP) {
	header := t.get("proxy_header")
	if h.ProxyHeader != "" && !headerShape.MatchString(h.ProxyHeader) {
		header.fail("the name of a header, such as X-Remote-User", "found %q", clip(h.ProxyHeader))
	}
	t.requires("proxy_header", "trusted_proxies")
	if !isLoopback(h.Listen) && !t.has("users") {
		t.get("listen").fail("a loopback address such as "+defaultHTTP+", or users as well",
			"%s can be reached by others and nobody has to sign in", h.Listen)
	}
	if _, port, _ := net.SplitHostPort(h.Listen); h.MetricsListen == h.Listen && port != "0" {
		t.get("metrics_listen").fail("another address, or the key left out: the pages have /metrics too", "%s is that of the pages", h.MetricsListen)
	}
	if h.MetricsListen != "" && !isLoopback(h.MetricsListen) {
		t.get("metrics_listen").warn("", "%s can be reached by others; /metrics asks nobody to sign in there", h.MetricsListen)
	}
	if !isLoopback(h.Listen) && h.CertFile == "" && len(h.TrustedProxies) == 0 && t.has("users") {
		t.get("listen").warn("tls, or a proxy in front", "passwords travel unencrypted")
	}
}

func readUsers(v value, byProxy bool) []access.User {
	var users []access.User
	taken := names{}
	for _, item := range v.some("users, each {name, role, password_bcrypt}", "at least one user, or the key left out") {
		t := item.table()
		name := t.need("name", "a name to sign in with")
		u := access.User{Name: name.line(""), Role: t.role(), Bcrypt: t.get("password_bcrypt").bcrypt()}
		taken.claim(name, "user name", u.Name)
		if !byProxy && !t.has("password_bcrypt") {
			t.get("password_bcrypt").fail("a bcrypt hash, or proxy_header for users a proxy signs in", "missing: nobody can sign in as this user")
		}
		t.close()
		users = append(users, u)
	}
	return users
}

func (t *table) role() access.Role {
	return access.Role(t.need("role", roleAllowed).oneOf("", string(access.Viewer), string(access.Technician), string(access.Safety)))
}

func (v value) bcrypt() []byte {
	s := v.line("")
	if s == "" {
		return nil
	}
	if _, err := bcrypt.Cost([]byte(s)); err != nil || len(s) != 60 {
		v.fail("a bcrypt hash of 60 characters, $2a$…", "found something else")
		return nil
	}
	return []byte(s)
}

func readTokens(v value) []access.Token {
	var tokens []access.Token
	taken := names{}
	for _, item := range v.list("tokens, each {name, role, sha256}") {
		t := item.table()
		name := t.need("name", "what the token is for")
		k := access.Token{Name: name.line(""), Role: t.role()}
		k.SHA256 = t.need("sha256", "the SHA-256 digest of the token, 64 hexadecimal digits").digest()
		taken.claim(name, "token name", k.Name)
		t.close()
		tokens = append(tokens, k)
	}
	return tokens
}

func (v value) digest() (sum [32]byte) {
	const allowed = "64 hexadecimal digits"
	raw, ok := v.scalar(allowed, "!!str", "!!int", "!!float") // digits alone look like a number
	if !ok {
		return sum
	}
	b, err := hex.DecodeString(raw)
	if err != nil || len(b) != len(sum) {
		v.fail(allowed, "found something else")
		return sum
	}
	return [32]byte(b)
}

// network gives an address range; a single address is a range of one.
func (v value) network() netip.Prefix {
	s := v.line("")
	if s == "" {
		return netip.Prefix{}
	}
	if a, err := netip.ParseAddr(s); err == nil {
		return netip.PrefixFrom(a, a.BitLen())
	}
	p, err := netip.ParsePrefix(s)
	if err != nil {
		v.fail("an address or network such as 127.0.0.1 or 10.0.0.0/8", "found %q", clip(s))
	}
	return p.Masked()
}
