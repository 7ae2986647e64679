package mqtt

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/url"
	"sync"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
)

// Time limits of a connection; common practice, no source.
const (
	connectTimeout = 10 * time.Second // network and MQTT handshake together
	writeTimeout   = 10 * time.Second
	keepAlive      = 20 * time.Second // without a packet, then the library sends a ping
	pingTimeout    = 10 * time.Second // for its answer
	quiesce        = 250              // ms, for the last packets before a disconnect
)

// silence is how long a connection may say nothing: the library looks every
// quarter of keepAlive whether a ping is due.
const silence = keepAlive + keepAlive/4 + pingTimeout

// never is when the library itself may give up waiting for a ping's answer,
// where a wire knows better.
const never = 1 << 30 * time.Second

// The words on a status topic.
const (
	Online  = "online"
	Offline = "offline"
)

// Link says how to reach a broker.
type Link struct {
	URL         string // tcp, tls, ws or wss
	ClientID    string // unique at the broker: two with one id throw each other out
	Username    string // empty: none
	Password    string // empty: none
	TLS         TLS    // for tls and wss
	StatusTopic string // retained online or offline word about this client; empty: none
	Log         *slog.Logger
}

// ErrURL is returned for a broker address that cannot be used.
var ErrURL = errors.New("broker url needs the form tcp|tls|ws|wss://host:port")

// Check reports whether the address is usable.
func (l Link) Check() error {
	u, err := url.Parse(l.URL)
	if err != nil {
		return fmt.Errorf("%w: %w", ErrURL, err)
	}
	switch u.Scheme {
	case "tcp", "tls", "ws", "wss":
	default:
		return fmt.Errorf("%w: scheme %q", ErrURL, u.Scheme)
	}
	if u.Port() == "" && (u.Scheme == "tcp" || u.Scheme == "tls") || u.Hostname() == "" {
		return fmt.Errorf("%w: host %q", ErrURL, u.Host)
	}
	return nil
}

// conn is one connection's life.
type conn struct {
	client  paho.Client
	session bool          // the broker remembered us
	lost    chan struct{} // closed when the connection is gone
	why     error         // set before lost is closed
	once    sync.Once
	wire    *wire // nil for websockets
}

func (c *conn) lose(err error) {
	c.once.Do(func() { c.why = err; close(c.lost) })
}

// connect makes one attempt; handler gets every message of the connection.
func (l Link) connect(ctx context.Context, clean bool, handler func(*conn, paho.Message)) (*conn, error) {
	opts, err := l.options(clean)
	if err != nil {
		return nil, err
	}
	c := &conn{lost: make(chan struct{})}
	opts.SetConnectionLostHandler(func(_ paho.Client, err error) { c.lose(err) })
	if handler != nil {
		opts.SetDefaultPublishHandler(func(_ paho.Client, m paho.Message) { handler(c, m) })
	}
	dialling, done := context.WithCancel(ctx)
	defer done()
	l.setDialler(dialling, opts, c)
	c.client = paho.NewClient(opts)
	token := c.client.Connect().(*paho.ConnectToken)
	select {
	case <-token.Done():
	case <-ctx.Done():
		go c.client.Disconnect(0) // the attempt ends by itself within connectTimeout
		return nil, ctx.Err()
	}
	if err := token.Error(); err != nil {
		return nil, fmt.Errorf("cannot connect to %s: %w", redact(l.URL), err)
	}
	if c.wire != nil {
		c.wire.mind()
	}
	c.session = token.SessionPresent()
	return c, nil
}

func (l Link) options(clean bool) (*paho.ClientOptions, error) {
	o := paho.NewClientOptions().AddBroker(l.URL).SetClientID(l.ClientID).
		SetUsername(l.Username).SetPassword(l.Password).
		SetProtocolVersion(4). // 3.1.1, without a second try as 3.1
		SetCleanSession(clean).SetAutoAckDisabled(true).SetOrderMatters(true).
		SetAutoReconnect(false).SetConnectRetry(false).SetStore(noStore{}).
		SetConnectTimeout(connectTimeout).SetWriteTimeout(writeTimeout).
		SetKeepAlive(keepAlive).SetPingTimeout(pingTimeout)
	if l.StatusTopic != "" {
		o.SetWill(l.StatusTopic, Offline, 1, true)
	}
	config, err := l.TLS.load()
	if err != nil {
		return nil, err
	}
	o.SetTLSConfig(config)
	return o, nil
}

// setDialler opens tcp and tls ourselves, for a wire around them.
func (l Link) setDialler(ctx context.Context, o *paho.ClientOptions, into *conn) {
	u := o.Servers[0]
	if u.Scheme != "tcp" && u.Scheme != "tls" {
		return // the library's own websocket dialler reads by frames
	}
	o.SetPingTimeout(never)
	o.SetCustomOpenConnectionFn(func(u *url.URL, o paho.ClientOptions) (net.Conn, error) {
		ctx, cancel := context.WithTimeout(ctx, connectTimeout)
		defer cancel()
		c, err := dial(ctx, u, o.TLSConfig)
		if err != nil {
			return nil, err
		}
		into.wire = newWire(c)
		return into.wire, nil
	})
}

func dial(ctx context.Context, u *url.URL, config *tls.Config) (net.Conn, error) {
	if u.Scheme == "tls" {
		return (&tls.Dialer{Config: config}).DialContext(ctx, "tcp", u.Host)
	}
	return (&net.Dialer{}).DialContext(ctx, "tcp", u.Host)
}

// redact gives an address without its password.
func redact(raw string) string {
	u, err := url.Parse(raw)
	if err != nil {
		return "broker"
	}
	return u.Redacted()
}
