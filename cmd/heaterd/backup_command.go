package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"

	"github.com/spf13/cobra"

	"heaterd/alerts/ledger"
	"heaterd/config"
	"heaterd/ingest/store"
)

func backupCommand(env lookup, std streams) *cobra.Command {
	var file, to string
	c := &cobra.Command{
		Use:   "backup --config FILE --out FILE",
		Short: "copy the store while the daemon runs",
		Long: `Writes a consistent copy of the store to a new file, checks it, and prints what
it holds. The daemon may run meanwhile. To restore: stop the daemon, put the
copy in the place of the store, remove the files beside it that end in -wal
and -shm, and start again.`,
		Example: "  heaterd backup --config heaterd.yaml --out heaterd-2026-01-12.db",
		Args:    noArguments,
		RunE: func(c *cobra.Command, _ []string) error {
			cfg, err := config.Load(file, env)
			if err != nil {
				return err
			}
			return failure(backup(c.Context(), cfg.Store.Path, to, std))
		},
	}
	c.Flags().StringVar(&file, "config", "", "configuration `FILE`")
	c.Flags().StringVar(&to, "out", "", "`FILE` to write; it must not exist")
	require(c, "config", "out")
	return c
}

func backup(ctx context.Context, from, to string, std streams) error {
	if _, err := os.Stat(from); err != nil {
		return fmt.Errorf("cannot find the store: %w", err)
	}
	if err := reserve(to); err != nil {
		return err
	}
	if err := copyStore(ctx, from, to); err != nil {
		return errors.Join(err, os.Remove(to))
	}
	s, err := store.Open(ctx, to, slog.New(slog.DiscardHandler), ledger.Migrations)
	if err != nil {
		return fmt.Errorf("the copy cannot be opened: %w", err)
	}
	if err := errors.Join(s.Check(ctx), s.Close()); err != nil {
		return fmt.Errorf("the copy is not sound: %w", err)
	}
	_, err = fmt.Fprintf(std.out, "%s holds %d lines of the log and is sound\n", to, s.Last())
	return err
}

// reserve makes an empty file that its owner alone can read, for the copy
// tells as much as the store.
func reserve(path string) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return fmt.Errorf("%s exists; choose another name or move it away", path)
	}
	if err != nil {
		return fmt.Errorf("cannot create the copy: %w", err)
	}
	return f.Close()
}

func copyStore(ctx context.Context, from, to string) error {
	s, err := store.OpenReader(ctx, from, slog.New(slog.DiscardHandler))
	if err != nil {
		return err
	}
	return errors.Join(s.Backup(ctx, to), s.Close())
}
