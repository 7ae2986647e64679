package config

import (
	"net/netip"
	"time"

	"heaterd/alerts/fleet"
	"heaterd/alerts/notify"
	"heaterd/alerts/service"
	"heaterd/dashboards/access"
	"heaterd/ingest/source"
)

// Config is a checked configuration. Paths in it are absolute.
type Config struct {
	Path      string // of the configuration file, absolute; as given to Parse otherwise
	Store     Store
	Broker    *Broker // nil: the embedded broker is started
	Embedded  Embedded
	Sources   source.Sources // never empty: the contract's topics when none are written
	Fleet     fleet.Fleet
	Plan      service.Plan
	Season    service.HeatingSeason
	Notify    notify.Settings
	HTTP      HTTP
	History   *Influx       // nil: no copy of the readings is kept elsewhere
	Heartbeat *Heartbeat    // nil: nobody outside is told that the daemon is alive
	Lateness  time.Duration // how late a reading may come and still count as in time; default 10 min
	Backlog   time.Duration // how long a node may keep readings it cannot send; default 168 h
	Log       Log

	Warnings []Problem // lawful but doubtful, in file order
	missing  []Problem
	unfit    []Problem
}

// Ready reports, as *Errors, the secret files that could not be read. Whoever
// talks to a broker, a channel or a history server asks it first; replay and
// decode need no secrets and do not.
func (c *Config) Ready() error {
	if len(c.missing) == 0 {
		return nil
	}
	return &Errors{Problems: c.missing}
}

// Fit gives nil when the certificates can be used, else an *Errors. Without
// them the daemon runs, and looks for them again at every connection; but it
// must not give up ones that work for them.
func (c *Config) Fit() error {
	if len(c.unfit) == 0 {
		return nil
	}
	return &Errors{Problems: c.unfit}
}

// Store is where everything that lasts is kept.
type Store struct {
	Path         string // of the database file; default heaterd.db beside the configuration
	Quarantine   int    // refused messages kept for inspection; default 1000
	ReadingsDays int    // days that all readings are kept, later only what run-hours rest on; 0 (default): for ever
}

// Broker is the MQTT broker subscribed to.
type Broker struct {
	URL        string // tcp, tls, ws or wss
	ClientID   string // default heaterd
	Username   string
	Password   []byte // from password_file; nil none
	ServerName string // name to expect in the broker's certificate; empty: the URL's host
	CAFile     string // certificates that may vouch for the broker; empty: the system's
	CertFile   string // the daemon's own certificate; empty none
	KeyFile    string
}

// Embedded is the broker inside the daemon, for when Config.Broker is nil.
type Embedded struct {
	Dir   string         // where sessions and waiting messages are kept; default broker beside the configuration
	Host  string         // to listen on; default 127.0.0.1
	Port  int            // default 1883; 0: any free port
	Users []EmbeddedUser // empty: anyone who can reach it, which is lawful on loopback only
	Sync  bool           // force every message to disk before it is acknowledged
}

// EmbeddedUser may connect to the embedded broker.
type EmbeddedUser struct {
	Name      string
	Password  []byte
	Publish   []string // topic filters; default #
	Subscribe []string // topic filters; default none
}

// Influx is an InfluxDB v2 server that readings are copied to.
type Influx struct {
	URL    string
	Org    string
	Bucket string
	Token  []byte
}

// Heartbeat is an address outside that is called while the daemon is well.
type Heartbeat struct {
	URL   string
	Every time.Duration // default 1 min
}

// Log says what is written to standard error.
type Log struct {
	Level  string // debug, info, warn or error; default info
	Format string // text or json; default text
}

// HTTP is how the pages are served.
type HTTP struct {
	Listen         string // host:port; default 127.0.0.1:8080
	MetricsListen  string // host:port of /metrics alone; empty: served with the pages
	Users          []access.User
	Tokens         []access.Token
	TrustedProxies []netip.Prefix // whose word about the visitor is taken
	ProxyHeader    string         // header in which they name the user; empty: they do not
	CertFile       string         // empty: no TLS
	KeyFile        string
}
