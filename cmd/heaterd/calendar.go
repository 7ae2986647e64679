package main

import (
	"bytes"
	"context"
	"crypto/sha256"

	"heaterd/ingest/store"
)

// calendarName is the name under which the store keeps what the calendar of who
// is on call said when it could last be used, so that it counts until the
// calendar can be read again.
const calendarName = "calendar"

// keepCalendar remembers what the calendar at a place says, in place of any
// other. Of the place, which may hold a key, only a digest is kept.
func keepCalendar(ctx context.Context, s *store.Store, where string, body []byte) error {
	at := sha256.Sum256([]byte(where))
	return s.SaveSnapshot(ctx, calendarName, 0, append(at[:], body...))
}

// lastCalendar is what the calendar at a place said; nil where that is not
// known.
func lastCalendar(ctx context.Context, s *store.Store, where string) []byte {
	_, kept, ok, err := s.LoadSnapshot(ctx, calendarName)
	at := sha256.Sum256([]byte(where))
	body, same := bytes.CutPrefix(kept, at[:])
	if err != nil || !ok || !same {
		return nil
	}
	return body
}
