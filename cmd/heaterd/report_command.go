package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"heaterd/alerts"
	"heaterd/alerts/fold"
	"heaterd/alerts/ledger"
	"heaterd/alerts/notify"
	"heaterd/config"
	"heaterd/dashboards"
	"heaterd/ingest/record"
	"heaterd/ingest/store"
)

// reportKinds are the reports, as the pages name them.
var reportKinds = []string{"exposure", "service", "season", "alarms"}

func reportCommand(env lookup, std streams) *cobra.Command {
	var file, to string
	q := map[string]*string{}
	c := &cobra.Command{
		Use:   "report {" + strings.Join(reportKinds, "|") + "} --config FILE",
		Short: "write a report from the store",
		Long: `Writes the same reports as the pages, from the store, also while the daemon
runs: the CO exposure of a space, the service record of a heater or a
site, the season of a site, how good the alarms are. What the configuration has
no more goes by the id that it had.`,
		Example: `  heaterd report exposure --config heaterd.yaml --site quay --space hall --from 2026-01-12 --to 2026-01-12 --out shift.html
  heaterd report season --config heaterd.yaml --format csv > season.csv`,
		ValidArgs: reportKinds,
		Args:      oneReport,
		RunE: func(c *cobra.Command, args []string) error {
			if err := errors.Join(lacking(args[0], q), mistaken(q)); err != nil {
				return misuse(c, err)
			}
			cfg, err := config.Load(file, env)
			if err != nil {
				return err
			}
			return failure(writeReport(c.Context(), cfg, args[0], values(q), to, std))
		},
	}
	c.Flags().StringVar(&file, "config", "", "configuration `FILE`")
	c.Flags().StringVar(&to, "out", "-", "`FILE` to write; - for standard output")
	for name, usage := range map[string]string{
		"site": "site id", "space": "space id", "heater": "heater id",
		"from": "first day, YYYY-MM-DD in the site's zone", "to": "last day",
		"format": "html or csv", "units": "metric or us",
	} {
		q[name] = c.Flags().String(name, "", usage)
	}
	require(c, "config")
	return c
}

// lacking tells what the one report that is about a single space was not told.
func lacking(kind string, q map[string]*string) error {
	if kind == "exposure" && (*q["site"] == "" || *q["space"] == "") {
		return errors.New("report exposure needs --site and --space")
	}
	return nil
}

// mistaken tells of words that the pages would pass over, as they do with what
// somebody puts into an address, and of days that are none.
func mistaken(q map[string]*string) error {
	var errs []error
	for _, one := range []struct{ name, a, b string }{{"format", "html", "csv"}, {"units", "metric", "us"}} {
		if v := *q[one.name]; v != "" && v != one.a && v != one.b {
			errs = append(errs, fmt.Errorf("--%s is %q, allowed: %s or %s", one.name, v, one.a, one.b))
		}
	}
	for _, name := range []string{"from", "to"} {
		if v := *q[name]; v != "" {
			if _, err := time.Parse(time.DateOnly, v); err != nil {
				errs = append(errs, fmt.Errorf("--%s is %q, allowed: a day written YYYY-MM-DD", name, v))
			}
		}
	}
	return errors.Join(errs...)
}

func values(q map[string]*string) url.Values {
	v := url.Values{}
	for name, value := range q {
		if *value != "" {
			v.Set(name, *value)
		}
	}
	return v
}

// writeReport asks the pages for the report, in this process.
func writeReport(ctx context.Context, cfg *config.Config, kind string, q url.Values, to string, std streams) error {
	log := slog.New(slog.DiscardHandler)
	s, err := store.OpenReader(ctx, cfg.Store.Path, log, store.Migrations, ledger.Migrations)
	if err != nil {
		return err
	}
	defer s.Close()
	pages, err := readOnlyPages(ctx, cfg, s, log)
	if err != nil {
		return err
	}
	body, err := ask(ctx, pages, "/reports/"+kind+"?"+q.Encode())
	if err != nil {
		return fmt.Errorf("cannot write the report: %w", err)
	}
	if to == "-" {
		_, err = std.out.Write(body)
		return err
	}
	if err := os.WriteFile(to, body, 0o600); err != nil {
		return fmt.Errorf("cannot write the report: %w", err)
	}
	return nil
}

func readOnlyPages(ctx context.Context, cfg *config.Config, s *store.Store, log *slog.Logger) (http.Handler, error) {
	l := ledger.New(s)
	engine := fold.New(cfg.Fleet, rulesOf(cfg))
	if err := alerts.Glance(ctx, alerts.Options{Log: s, Ledger: l, Engine: engine, Logger: log}); err != nil {
		return nil, err
	}
	return dashboards.New(dashboards.Options{
		View: engine.View, Ledger: l, Store: s, Record: refuse, Name: notify.New(cfg.Notify, cfg.Fleet, nil).Name,
		Plan: cfg.Plan, Season: cfg.Season, People: len(cfg.Notify.People),
		Now: func() time.Time { return engine.Now().Time() }, Log: log, Alone: true,
	}), nil
}

func refuse(context.Context, record.Line) (int64, error) {
	return 0, errors.New("a report writes nothing down")
}

// answer is what the pages said.
type answer struct {
	header http.Header
	status int
	bytes.Buffer
}

func (a *answer) Header() http.Header { return a.header }

func (a *answer) WriteHeader(status int) { a.status = status }

// ask makes one request of a handler in this process.
func ask(ctx context.Context, h http.Handler, path string) ([]byte, error) {
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://127.0.0.1"+path, http.NoBody)
	if err != nil {
		return nil, err
	}
	r.RemoteAddr = "127.0.0.1:0"
	r.Header.Set("Accept", "application/json") // for complaints
	a := &answer{header: http.Header{}, status: http.StatusOK}
	h.ServeHTTP(a, r)
	if a.status != http.StatusOK {
		return nil, errors.New(complaint(a.Bytes()))
	}
	return a.Bytes(), nil
}

// complaint is what the pages say is wrong.
func complaint(body []byte) string {
	var told struct {
		Detail string `json:"detail"`
	}
	if json.Unmarshal(body, &told) != nil || told.Detail == "" {
		return "see the report page for what it needs"
	}
	return told.Detail
}
