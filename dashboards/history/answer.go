package history

import (
	"errors"
	"net/http"
	"strconv"
	"time"

	influx "github.com/influxdata/influxdb-client-go/v2/api/http"
)

// verdict is what to do after a write.
type verdict int

const (
	taken   verdict = iota
	again           // the server or the way to it is in trouble
	smaller         // too much at once
	poison          // something in it is wrong
	closed          // the set-up is wrong
)

// judge reads the answer to a write. wait is what the server asked for, 0
// where it did not.
func judge(err error, now time.Time) (v verdict, wait time.Duration) {
	if err == nil {
		return taken, 0
	}
	answer, ok := errors.AsType[*influx.Error](err)
	if !ok || answer == nil || answer.StatusCode == 0 {
		return again, 0
	}
	return verdictOf(answer.StatusCode), retryAfter(answer.Header, now)
}

func verdictOf(status int) verdict {
	switch {
	case status == http.StatusRequestTimeout, status == http.StatusTooManyRequests, status >= 500:
		return again
	case status == http.StatusRequestEntityTooLarge:
		return smaller
	case status == http.StatusBadRequest, status == http.StatusUnprocessableEntity:
		return poison
	default:
		return closed
	}
}

// retryAfter reads seconds or an HTTP date, RFC 9110 section 10.2.3.
func retryAfter(h http.Header, now time.Time) time.Duration {
	v := h.Get("Retry-After")
	if s, err := strconv.ParseUint(v, 10, 31); err == nil {
		return time.Duration(s) * time.Second
	}
	if t, err := http.ParseTime(v); err == nil {
		return max(0, t.Sub(now))
	}
	return 0
}
