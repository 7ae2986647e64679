package reading

import (
	"math"
	"time"
)

// Instant is a point in time as microseconds since 1970-01-01T00:00:00 UTC.
// It is what the store keeps and what the arithmetic compares; people see
// it in their site's zone only.
type Instant int64

// InstantOf converts t, rounding down to the microsecond.
func InstantOf(t time.Time) Instant { return Instant(t.UnixMicro()) }

// InstantOfSeconds converts seconds since 1970, as SenML counts them,
// rounding to the nearest microsecond.
func InstantOfSeconds(s float64) Instant { return Instant(math.Round(s * 1e6)) }

// Time gives the instant in UTC.
func (i Instant) Time() time.Time { return time.UnixMicro(int64(i)).UTC() }

// Add gives the instant d later, rounding d down to the microsecond.
func (i Instant) Add(d time.Duration) Instant { return i + Instant(d/time.Microsecond) }

// AddSeconds gives the instant s seconds later.
func (i Instant) AddSeconds(s float64) Instant { return i + Instant(math.Round(s*1e6)) }

// Sub gives the span from j to i.
func (i Instant) Sub(j Instant) time.Duration { return time.Duration(i-j) * time.Microsecond }

// Seconds gives the span from j to i in seconds.
func (i Instant) Seconds(j Instant) float64 { return float64(i-j) / 1e6 }

// MarshalText writes RFC 3339 in UTC, as the contract's outcomes use it.
func (i Instant) MarshalText() ([]byte, error) {
	return i.Time().AppendFormat(nil, time.RFC3339Nano), nil
}

// UnmarshalText reads RFC 3339 with any offset.
func (i *Instant) UnmarshalText(b []byte) error {
	t, err := time.Parse(time.RFC3339Nano, string(b))
	if err != nil {
		return err
	}
	*i = InstantOf(t)
	return nil
}

// String writes RFC 3339 in UTC.
func (i Instant) String() string { return i.Time().Format(time.RFC3339Nano) }
