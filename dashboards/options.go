package dashboards

import (
	"context"
	"crypto/rand"
	"log/slog"
	"net/http"
	"net/netip"
	"sync"
	"time"

	"heaterd/alerts/fold"
	"heaterd/alerts/ledger"
	"heaterd/alerts/notify"
	"heaterd/alerts/service"
	"heaterd/dashboards/access"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/source"
	"heaterd/ingest/store"
)

// Readings is the store as the pages read it.
type Readings interface {
	// Samples calls f with a node's samples in order of time until it returns false.
	Samples(ctx context.Context, id reading.NodeID, from, to reading.Instant, f func(reading.Sample) bool) error
	// Rollup gives a node's figures step by step, empty steps included.
	Rollup(ctx context.Context, id reading.NodeID, from, to reading.Instant, step time.Duration) ([]store.Step, error)
	// Heard reports whether anything ever came from a node.
	Heard(ctx context.Context, id reading.NodeID) (bool, error)
	// ListUnlisted gives the nodes that no heater has and that sent something
	// since an instant.
	ListUnlisted(ctx context.Context, since reading.Instant) ([]store.Unlisted, error)
	// ListQuarantine gives the newest messages that could not be read, with so
	// many bytes of each, of all nodes where the id is empty.
	ListQuarantine(ctx context.Context, node reading.NodeID, limit, bytes int) ([]store.Quarantined, error)
}

// Check is one condition of being ready to serve.
type Check struct {
	Name string
	Err  error // nil: as it should be
}

// Options are what the pages are made from. View, Ledger, Store and Record
// must be set.
type Options struct {
	View    func() fold.View // takes stock; asked at most once a second
	Changed func() int64     // id of the last line the alarm loop folded; nil: pages do not update by themselves
	Ledger  *ledger.Ledger
	Store   Readings
	// Record appends a line to the log and gives its id.
	Record func(context.Context, record.Line) (int64, error)
	// OnCall tells who answers for alarms at a time; nil: the pages do not say.
	OnCall func(time.Time) notify.OnCall
	// Name is how people say somebody's id; nil: the id stands for itself.
	Name func(id string) string
	// Sources are where units publish; empty: the pages do not say.
	Sources source.Sources
	Plan    service.Plan
	Season  service.HeatingSeason // zero: the usual one
	People  int                   // how many share the duty, for the measures of alarm quality; below one counts as one

	Users          []access.User
	Tokens         []access.Token
	TrustedProxies []netip.Prefix // whose word about the visitor is taken
	ProxyHeader    string         // header in which they name the user; empty: they do not
	LinkSecret     []byte         // signs acknowledge links and sessions; empty: drawn anew at each start
	BaseURL        string         // address of the pages as others reach them, for labels; empty: as the visitor reached them

	// Backtest tries a configuration on the readings of the last days; nil:
	// there is no such page. Its *Problem is shown to the visitor.
	Backtest func(ctx context.Context, days int, text string) (Backtest, error)

	Metrics http.Handler   // /metrics; nil: there is none
	Checks  func() []Check // /readyz; nil: always ready
	Now     func() time.Time
	Log     *slog.Logger

	// Alone has each page stand alone, to be kept as a file: its style is in it, and
	// nothing that needs the daemon.
	Alone bool
}

func (o *Options) complete() {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Name == nil {
		o.Name = func(id string) string { return id }
	}
	if len(o.LinkSecret) == 0 {
		o.LinkSecret = make([]byte, 32)
		_, _ = rand.Read(o.LinkSecret) // never fails (crypto/rand)
	}
}

// pages is the handler of everything.
type pages struct {
	o       Options
	gate    *access.Gate
	stock   stock
	trying  sync.Mutex // held while a configuration is tried
	pressed pressed
	lines   logIndex
	needs   map[string][]string // what a calendar says of each task
}

// New makes the handler of all pages.
func New(o Options) http.Handler {
	o.complete()
	p := &pages{o: o, needs: taskNeeds(o.Plan)}
	p.gate = access.New(access.Options{
		Users: o.Users, Tokens: o.Tokens, TrustedProxies: o.TrustedProxies,
		ProxyHeader: o.ProxyHeader, Secret: o.LinkSecret, Now: o.Now, Log: o.Log,
	})
	mux := http.NewServeMux()
	for _, r := range routes {
		mux.Handle(r.Method+" "+r.Pattern, p.guarded(r))
	}
	return p.shielded(compressed(p.routed(mux)))
}
