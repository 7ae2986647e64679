package broker

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"strconv"
	"strings"
	"time"

	"github.com/nats-io/nats-server/v2/server"
)

// Limits of the broker; common practice, no source, except where said.
const (
	ackWait       = 2 * time.Second  // until an unacknowledged message is sent again
	maxAckPending = 1024             // unacknowledged messages per subscription; ×2 for "#", the session's sum is limited to 65,535
	maxPayload    = 1 << 20          // bytes of a message, far above any pack
	maxClients    = 2000             // connections
	maxStore      = 2 << 30          // bytes on disk of what waits for clients
	maxMemory     = 64 << 20         // bytes of what is kept in memory
	startLimit    = 15 * time.Second // to be ready
)

// Options configure the broker.
type Options struct {
	Dir   string // where sessions and waiting messages are kept
	Host  string // to listen on; empty: loopback
	Port  int    // 0: any free port
	Users []User // empty: no names and passwords, for loopback only
	Sync  bool   // force every message to disk before it is acknowledged: safe against power failure, some ten times slower
	Log   *slog.Logger
}

// User may connect and use the topics that match.
type User struct {
	Name, Password     string
	Publish, Subscribe []string // topic filters
}

// Broker is a running broker.
type Broker struct {
	server *server.Server
	url    string
}

// ErrOpen is returned for a broker without users that others could reach.
var ErrOpen = errors.New("a broker without users listens on loopback only")

// Start starts a broker and waits until it takes connections.
func Start(ctx context.Context, o Options) (*Broker, error) {
	o.Host = cmp.Or(o.Host, "127.0.0.1")
	if ip := net.ParseIP(o.Host); len(o.Users) == 0 && (ip == nil || !ip.IsLoopback()) {
		return nil, ErrOpen
	}
	opts := o.server()
	s, err := server.NewServer(opts)
	if err != nil {
		return nil, fmt.Errorf("cannot set up the broker: %w", err)
	}
	log := &logger{log: o.Log}
	s.SetLoggerV2(log, false, false, false)
	go s.Start()
	if err := await(ctx, s); err != nil {
		s.Shutdown()
		return nil, errors.Join(err, log.fatal())
	}
	host := net.JoinHostPort(o.Host, strconv.Itoa(opts.MQTT.Port))
	return &Broker{server: s, url: "tcp://" + host}, nil
}

func await(ctx context.Context, s *server.Server) error {
	ready := make(chan bool, 1)
	go func() { ready <- s.ReadyForConnections(startLimit) }()
	select {
	case ok := <-ready:
		if !ok {
			return fmt.Errorf("cannot start the broker: not ready after %s", startLimit)
		}
		return nil
	case <-ctx.Done():
		return fmt.Errorf("cannot start the broker: %w", ctx.Err())
	}
}

func (o Options) server() *server.Options {
	so := &server.Options{
		ServerName: "heaterd", // sessions belong to a server's name: fixed
		DontListen: true,      // no listener but MQTT's
		NoSigs:     true,
		JetStream:  true, StoreDir: o.Dir,
		JetStreamMaxStore: maxStore, JetStreamMaxMemory: maxMemory,
		SyncAlways: o.Sync,
		MaxPayload: maxPayload, MaxConn: maxClients,
		MQTT: server.MQTTOpts{Host: o.Host, Port: cmp.Or(o.Port, server.RANDOM_PORT), AckWait: ackWait, MaxAckPending: maxAckPending},
	}
	for _, u := range o.Users {
		so.Users = append(so.Users, u.server())
	}
	return so
}

func (u User) server() *server.User {
	return &server.User{Username: u.Name, Password: u.Password, Permissions: &server.Permissions{
		Publish:   &server.SubjectPermission{Allow: subjects(u.Publish)},
		Subscribe: &server.SubjectPermission{Allow: append(subjects(u.Subscribe), ownDelivery)},
	}}
}

// ownDelivery is where the server hands a session its QoS 1 messages.
const ownDelivery = "$MQTT.sub.>"

// noSubject allows nothing: an empty list would allow everything.
const noSubject = "none.at.all"

// subjects writes topic filters as the server names them.
func subjects(filters []string) []string {
	all := []string{}
	for _, f := range filters {
		s := strings.NewReplacer("/", ".", "+", "*", "#", ">", ".", "//").Replace(f)
		all = append(all, s)
		if parent, ok := strings.CutSuffix(s, ".>"); ok { // "a/#" matches "a" too
			all = append(all, parent)
		}
	}
	if len(all) == 0 {
		all = append(all, noSubject)
	}
	return all
}

// URL is where clients connect.
func (b *Broker) URL() string { return b.url }

// Close stops the broker; sessions and waiting messages stay in its directory.
func (b *Broker) Close(ctx context.Context) error {
	done := make(chan struct{})
	go func() { b.server.Shutdown(); b.server.WaitForShutdown(); close(done) }()
	select {
	case <-done:
		return nil
	case <-ctx.Done():
		return fmt.Errorf("cannot stop the broker in time: %w", ctx.Err())
	}
}
