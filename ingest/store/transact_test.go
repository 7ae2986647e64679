package store_test

import (
	"context"
	"database/sql"
	"errors"
	"testing"

	"heaterd/ingest/store"
)

// However a derived transaction ends, the next one waits for the disk again.
func TestDeriveLeavesFullSync(t *testing.T) {
	s := fresh(t)
	refused := errors.New("refused")
	for name, end := range map[string]func(cancel func(), tx *sql.Tx) error{
		"kept":      func(func(), *sql.Tx) error { return nil },
		"refused":   func(func(), *sql.Tx) error { return refused },
		"cancelled": func(cancel func(), _ *sql.Tx) error { cancel(); return nil },
		"spoilt": func(_ func(), tx *sql.Tx) error {
			_, err := tx.Exec("ROLLBACK") // behind the pool's back: the commit fails
			return err
		},
	} {
		ctx, cancel := context.WithCancel(t.Context())
		level := -1
		err := store.Derive(ctx, s.Writer(), func(tx *sql.Tx) error {
			if err := tx.QueryRow("PRAGMA synchronous").Scan(&level); err != nil {
				return err
			}
			return end(cancel, tx)
		})
		cancel()
		if (err == nil) != (name == "kept") {
			t.Errorf("%s: %v", name, err)
		}
		if level != 1 {
			t.Errorf("%s: synchronous is %d within, want 1", name, level)
		}
		if err := s.Writer().QueryRow("PRAGMA synchronous").Scan(&level); err != nil || level != 2 {
			t.Errorf("%s: synchronous is %d afterwards (%v), want 2", name, level, err)
		}
	}
}

// What a derived transaction wrote is there for everyone at once.
func TestDeriveKeeps(t *testing.T) {
	s := fresh(t)
	err := store.Derive(t.Context(), s.Writer(), func(tx *sql.Tx) error {
		return store.PutSnapshot(t.Context(), tx, store.Snapshot{Name: "a", Cursor: 7})
	})
	if cursor, ok, err2 := s.SnapshotCursor(t.Context(), "a"); err != nil || err2 != nil || !ok || cursor != 7 {
		t.Errorf("%d %v, %v %v", cursor, ok, err, err2)
	}
}
