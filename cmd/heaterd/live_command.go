package main

import (
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/spf13/cobra"
)

// liveWait is how long a running daemon may take to answer.
const liveWait = 5 * time.Second

func liveCommand(std streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "live ADDRESS",
		Short: "ask a running daemon whether it is ready",
		Long: `Asks the pages of a running daemon whether everything it needs works, prints
what it says, and gives exit status 1 if not: for containers and scripts. Where
users are configured it says which check failed, and why only on /readyz to
those who signed in.`,
		Example: "  heaterd check live http://127.0.0.1:8080",
		Args: func(c *cobra.Command, args []string) error {
			if len(args) != 1 {
				return misuse(c, fmt.Errorf("name one address of a daemon's pages, found %d", len(args)))
			}
			if u, err := url.Parse(args[0]); err != nil || u.Hostname() == "" || u.Scheme != "http" && u.Scheme != "https" {
				return misuse(c, fmt.Errorf("%q is no address of a daemon's pages: the form is http://HOST:PORT or https://HOST:PORT", args[0]))
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			r, err := http.NewRequestWithContext(c.Context(), http.MethodGet, strings.TrimSuffix(args[0], "/")+"/readyz", http.NoBody)
			if err != nil {
				return fmt.Errorf("cannot read the address: %w", err)
			}
			return failure(askLive(r, std))
		},
	}
	return c
}

func askLive(r *http.Request, std streams) error {
	resp, err := (&http.Client{Timeout: liveWait}).Do(r)
	if err != nil {
		return fmt.Errorf("the daemon does not answer: %w", err)
	}
	defer resp.Body.Close()
	if _, err := io.Copy(std.out, io.LimitReader(resp.Body, 64<<10)); err != nil {
		return err
	}
	if resp.StatusCode != http.StatusOK {
		return fmt.Errorf("the daemon is not ready: %s", resp.Status)
	}
	return nil
}
