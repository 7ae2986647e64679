package httpsend

import (
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"heaterd/alerts/notify"
)

const (
	// Timeout is how long one attempt may take (Standard Webhooks 1.0: 15 s to 30 s).
	Timeout = 15 * time.Second

	// longestPause bounds what a receiver may ask for: an alarm that waits
	// longer is no alarm. Common practice, no source.
	longestPause = time.Hour

	// readAtMost is how much of an answer is read, in bytes, so that the
	// connection can be used again.
	readAtMost = 64 << 10

	agent = "heaterd"
)

// Client makes a client for one receiver.
func Client() *http.Client {
	return &http.Client{
		Timeout:       Timeout,
		Transport:     http.DefaultTransport.(*http.Transport).Clone(),
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}
}

// Do sends a request and gives nil for a 2xx answer. The error is
// notify.ErrGone for 410, a notify.RetryError where the receiver said when to
// come back, permanent where trying again is in vain, and neither where it may
// help. It never holds the address, which may hold a key.
func Do(c *http.Client, req *http.Request) error {
	req.Header.Set("User-Agent", agent)
	resp, err := c.Do(req)
	if err != nil {
		return fmt.Errorf("cannot reach %s: %w", req.URL.Host, Bare(err))
	}
	defer resp.Body.Close()
	_, _ = io.CopyN(io.Discard, resp.Body, readAtMost)
	return judge(resp, req.URL.Host, time.Now())
}

// Bare takes off the layer that quotes the address.
func Bare(err error) error {
	if e, ok := errors.AsType[*url.Error](err); ok {
		return e.Err
	}
	return err
}

// refusals are the answers that say the message itself is at fault. Others
// (a login, a missing page, a redirect) may be mended at the receiver while
// the alarm still stands.
var refusals = map[int]bool{
	http.StatusBadRequest: true, http.StatusRequestEntityTooLarge: true,
	http.StatusUnsupportedMediaType: true, http.StatusUnprocessableEntity: true,
}

func judge(resp *http.Response, host string, now time.Time) error {
	code := resp.StatusCode
	err := fmt.Errorf("%s answered %d %s", host, code, http.StatusText(code))
	switch {
	case code >= 200 && code < 300:
		return nil
	case code == http.StatusGone:
		return fmt.Errorf("%w: %w", notify.ErrGone, err)
	case code >= 300 && code < 400:
		return fmt.Errorf("%w, and redirects are not followed", err)
	case refusals[code]:
		return notify.Permanent(err)
	}
	if d, ok := pause(resp.Header.Get("Retry-After"), now); ok {
		return notify.RetryAfter(d, err)
	}
	return err
}

// pause reads Retry-After: seconds or a date (RFC 9110 section 10.2.3).
func pause(value string, now time.Time) (time.Duration, bool) {
	value = strings.TrimSpace(value)
	if seconds, err := strconv.ParseUint(value, 10, 32); err == nil {
		return min(time.Duration(seconds)*time.Second, longestPause), true
	}
	at, err := http.ParseTime(value)
	if err != nil {
		return 0, false
	}
	return min(max(at.Sub(now), 0), longestPause), true
}
