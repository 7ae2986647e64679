package rotafile

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"os"
	"strings"
	"time"

	"heaterd/alerts/notify/httpsend"
)

const (
	// Every is how often a calendar is fetched. Common practice, no source.
	Every = 15 * time.Minute

	// maxBytes is the longest calendar that is read.
	maxBytes = 1 << 20
)

// Fetch gives the calendar at a path or an http or https address. Errors
// about an address do not hold it: it may hold a key.
func Fetch(ctx context.Context, where string) ([]byte, error) {
	if !strings.HasPrefix(where, "http://") && !strings.HasPrefix(where, "https://") {
		f, err := os.Open(where)
		if err != nil {
			return nil, fmt.Errorf("cannot read the calendar: %w", err)
		}
		defer f.Close()
		return read(f)
	}
	return get(ctx, where)
}

func get(ctx context.Context, where string) ([]byte, error) {
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, where, nil)
	if err != nil {
		return nil, errors.New("cannot fetch the calendar: its address is no address")
	}
	resp, err := (&http.Client{Timeout: httpsend.Timeout}).Do(req)
	if err != nil {
		return nil, fmt.Errorf("cannot fetch the calendar from %s: %w", req.URL.Host, httpsend.Bare(err))
	}
	defer resp.Body.Close()
	if resp.StatusCode != http.StatusOK {
		return nil, fmt.Errorf("cannot fetch the calendar: %s answered %s", req.URL.Host, resp.Status)
	}
	return read(resp.Body)
}

func read(r io.Reader) ([]byte, error) {
	body, err := io.ReadAll(io.LimitReader(r, maxBytes+1))
	switch {
	case err != nil:
		return nil, fmt.Errorf("cannot read the calendar: %w", err)
	case len(body) > maxBytes:
		return nil, fmt.Errorf("cannot read the calendar: it is longer than %d bytes", maxBytes)
	}
	return body, nil
}

// Follow fetches the calendar every so often until ctx ends and hands each
// change to use. Where known is what was just fetched and used, the first look is
// the next; nil: nothing could be, and it looks at once. What came of each look
// goes to word: nil, it was read. What fails is logged when it begins and when it
// ends.
func Follow(ctx context.Context, where string, every time.Duration, known []byte, use func(body []byte) error, word func(error), log *slog.Logger) error {
	tick := time.NewTicker(every)
	defer tick.Stop()
	last, failing := known, false
	if known != nil && !next(ctx, tick.C) {
		return nil
	}
	for {
		body, err := Fetch(ctx, where)
		if err == nil && (failing || !bytes.Equal(body, last)) {
			err = use(body)
			last = body
		}
		if failing = tell(ctx, log, every, failing, err); ctx.Err() != nil {
			return nil
		}
		word(err)
		if !next(ctx, tick.C) {
			return nil
		}
	}
}

// next waits for the next look; false: ctx ended first.
func next(ctx context.Context, tick <-chan time.Time) bool {
	select {
	case <-tick:
		return true
	case <-ctx.Done():
		return false
	}
}

func tell(ctx context.Context, log *slog.Logger, every time.Duration, failing bool, err error) bool {
	switch {
	case ctx.Err() != nil:
	case err != nil && !failing:
		log.Error("the calendar of who is on call is not used: mend it; until then they stay who they were", "next_try_in", every, "err", err)
	case err == nil && failing:
		log.Info("the rota follows its calendar again")
	}
	return err != nil
}
