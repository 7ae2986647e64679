package ingest

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
)

// Memory keeps a named value; *store.Store does.
type Memory interface {
	SaveSnapshot(ctx context.Context, name string, cursor int64, body []byte) error
	LoadSnapshot(ctx context.Context, name string) (cursor int64, body []byte, ok bool, err error)
}

// RememberFilters gives every filter that a session of the client id has ever
// subscribed, for mqtt.Options.Before, and adds these to them. The broker
// remembers too, so a filter taken out of the configuration must be
// unsubscribed; that is repeated at every start, for who knows whether it
// succeeded at the last.
func RememberFilters(ctx context.Context, m Memory, clientID string, filters []string) (before []string, err error) {
	name := "filters of " + clientID
	_, body, ok, err := m.LoadSnapshot(ctx, name)
	if err != nil {
		return nil, err
	}
	if ok {
		if err := json.Unmarshal(body, &before); err != nil {
			return nil, fmt.Errorf("cannot read the %s: %w", name, err)
		}
	}
	all := slices.Sorted(slices.Values(slices.Concat(before, filters)))
	if body, err = json.Marshal(slices.Compact(all)); err != nil {
		return nil, fmt.Errorf("cannot write the %s: %w", name, err)
	}
	return before, m.SaveSnapshot(ctx, name, 0, body)
}
