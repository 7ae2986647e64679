package config

import (
	"cmp"
	"net"
	"net/netip"
	"net/url"
	"slices"
	"strconv"
)

const (
	ownName          = "heaterd" // what the daemon calls itself at the embedded broker
	defaultClientID  = "heaterd"
	defaultMQTT      = "127.0.0.1:1883" // the port registered for MQTT
	defaultBrokerDir = "broker"
)

func readBroker(v value) *Broker {
	t := v.table()
	b := &Broker{
		URL:        t.need("url", "tcp://host:1883, tls://host:8883, ws:// or wss://").address("tcp", "tls", "ws", "wss"),
		ClientID:   cmp.Or(t.get("client_id").expanded(), defaultClientID),
		Username:   t.get("username").expanded(),
		Password:   t.get("password_file").secret(),
		ServerName: t.get("server_name").expanded(),
		CAFile:     t.get("ca_file").authorities(),
		CertFile:   t.get("cert_file").file(),
		KeyFile:    t.get("key_file").file(),
	}
	t.together("cert_file", "key_file")
	t.pair(b.CertFile, b.KeyFile)
	t.requires("password_file", "username")
	if t.has("password_file") && inClear(b.URL) {
		t.get("url").warn("tls or wss", "the password travels unencrypted")
	}
	t.close()
	if !t.given() {
		return nil
	}
	return b
}

// inClear reports whether others on the network can read what is sent to an
// address.
func inClear(address string) bool {
	u, err := url.Parse(address)
	if err != nil || u.Scheme != "tcp" && u.Scheme != "ws" {
		return false
	}
	return !isLoopback(net.JoinHostPort(u.Hostname(), "0"))
}

func readEmbedded(v value, unused bool) Embedded {
	t := v.table()
	listen := t.get("listen").listen(defaultMQTT)
	e := Embedded{
		Dir:   cmp.Or(t.get("path").file(), v.r.absolute(defaultBrokerDir)),
		Users: readBrokerUsers(t.get("users")),
		Sync:  t.get("sync").flag(),
	}
	e.Host, e.Port = hostPort(listen)
	switch {
	case t.given() && unused:
		v.warn("", "has no effect: broker names another one")
	case !isLoopback(listen) && !t.has("users"):
		t.get("listen").fail("a loopback address such as "+defaultMQTT+", or users as well",
			"%s can be reached by others without a password", listen)
	}
	t.close()
	return e
}

// hostPort splits a checked host:port; the broker wants a loopback host as a
// number and no host for every address.
func hostPort(listen string) (string, int) {
	host, word, _ := net.SplitHostPort(listen)
	port, _ := strconv.Atoi(word)
	switch host {
	case "":
		host = "0.0.0.0"
	case "localhost":
		host = "127.0.0.1"
	}
	return host, port
}

func readBrokerUsers(v value) []EmbeddedUser {
	var users []EmbeddedUser
	taken := names{}
	for _, item := range v.some("users, each {name, password_file, publish, subscribe}", "at least one user, or the key left out") {
		t := item.table()
		name := t.need("name", "the user name of a node")
		u := EmbeddedUser{
			Name:      name.line(""),
			Password:  t.need("password_file", "a file with the password").secret(),
			Publish:   t.get("publish").filters(),
			Subscribe: t.get("subscribe").filters(),
		}
		if !t.has("publish") {
			u.Publish = []string{"#"}
		}
		taken.claim(name, "user name", u.Name)
		if u.Name == ownName {
			name.fail("another name", "%s is the daemon's own name at its broker", ownName)
		}
		t.close()
		users = append(users, u)
	}
	return users
}

func (v value) filters() []string {
	var out []string
	for _, item := range v.list("topic filters") {
		if s := item.filter(); s != "" {
			out = append(out, s)
		}
	}
	return out
}

// together reports one of two keys written without the other.
func (t *table) together(a, b string) {
	t.requires(a, b)
	t.requires(b, a)
}

func (t *table) requires(key, other string) {
	if t.has(key) && !t.has(other) {
		t.get(key).fail(other+" as well", "%s without %s", key, other)
	}
}

// listen gives a host:port to listen on.
func (v value) listen(fallback string) string {
	const allowed = "host:port such as 127.0.0.1:8080, port 0 to 65535"
	s, ok := v.scalar(allowed, "!!str")
	if !ok {
		return fallback
	}
	_, port, err := net.SplitHostPort(s)
	if n, bad := strconv.ParseUint(port, 10, 16); err != nil || bad != nil || n > 65535 {
		v.fail(allowed, "found %q", clip(s))
		return fallback
	}
	return s
}

// isLoopback reports whether only this machine can reach an address.
func isLoopback(listen string) bool {
	host, _, err := net.SplitHostPort(listen)
	if err != nil {
		return false
	}
	if ip, err := netip.ParseAddr(host); err == nil {
		return ip.IsLoopback()
	}
	return slices.Contains([]string{"localhost", "ip6-localhost"}, host)
}
