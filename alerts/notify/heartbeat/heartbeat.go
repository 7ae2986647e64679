package heartbeat

import (
	"context"
	"log/slog"
	"net/http"
	"time"

	"heaterd/alerts/notify/httpsend"
)

// Run posts to url at once and then every so often, as long as healthy gives
// nil, until ctx ends. Failures are logged when they begin and when they end.
// It always gives nil.
func Run(ctx context.Context, url string, every time.Duration, healthy func() error, log *slog.Logger) error {
	b := beat{url: url, client: httpsend.Client(), healthy: healthy, log: log}
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		b.turn(ctx)
		select {
		case <-tick.C:
		case <-ctx.Done():
			return nil
		}
	}
}

type beat struct {
	url     string
	client  *http.Client
	healthy func() error
	log     *slog.Logger
	missed  bool
}

func (b *beat) turn(ctx context.Context) {
	err := b.healthy()
	if err == nil {
		err = b.post(ctx)
	}
	switch {
	case ctx.Err() != nil:
	case err != nil && !b.missed:
		b.log.Error("no heartbeat was sent", "err", err)
	case err == nil && b.missed:
		b.log.Info("heartbeats are sent again")
	}
	b.missed = err != nil
}

func (b *beat) post(ctx context.Context) error {
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, b.url, http.NoBody)
	if err != nil {
		return err
	}
	return httpsend.Do(b.client, req)
}
