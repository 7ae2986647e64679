package access

import (
	"net/netip"
	"sync"
	"time"

	"golang.org/x/time/rate"
)

// How often signing in may be tried; common practice, no source.
const (
	tryEvery  = 12 * time.Second // five a minute, in the long run
	tryBurst  = 5
	mostKept  = 4096 // addresses remembered; above it all are forgotten but the shared limit
	sharedTry = 10   // a second, all visitors together: what hashing may cost
)

// limiter bounds attempts by address, and all together.
type limiter struct {
	mu     *sync.Mutex
	kept   map[string]*rate.Limiter
	shared *rate.Limiter
}

func newLimiter() limiter {
	return limiter{mu: &sync.Mutex{}, kept: map[string]*rate.Limiter{}, shared: rate.NewLimiter(sharedTry, sharedTry)}
}

// allow counts an attempt. One visitor of IPv6 has a whole /64 (RFC 6177).
func (l *limiter) allow(now time.Time, from string) bool {
	if ip, err := netip.ParseAddr(from); err == nil && ip.Is6() && !ip.Is4In6() {
		p, _ := ip.Prefix(64)
		from = p.String()
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.of(from).AllowN(now, 1) && l.shared.AllowN(now, 1)
}

func (l *limiter) of(key string) *rate.Limiter {
	if len(l.kept) >= mostKept {
		clear(l.kept)
	}
	one := l.kept[key]
	if one == nil {
		one = rate.NewLimiter(rate.Every(tryEvery), tryBurst)
		l.kept[key] = one
	}
	return one
}
