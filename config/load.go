package config

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	_ "time/tzdata" // time zones by name on machines without a zone database

	"gopkg.in/yaml.v3"
)

// Options are what Parse may use besides the bytes. The zero value lets it
// use nothing.
type Options struct {
	Dir    string                                    // what relative paths start from
	Getenv func(string) (string, bool)               // for ${NAME} in paths, and in values of broker, notify and others
	Open   func(string) (fs.FileMode, []byte, error) // reads a secret file; nil: secrets are not read
	PEM    func(string) (fs.FileMode, []byte, error) // reads a certificate or its key; nil: they are not read
}

// Load reads the configuration file at path. An error about what the file
// says is *Errors and holds every problem; any other is about reading it.
func Load(path string, getenv func(string) (string, bool)) (*Config, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("cannot find the configuration: %w", err)
	}
	data, err := os.ReadFile(abs)
	if err != nil {
		return nil, fmt.Errorf("cannot read the configuration: %w", err)
	}
	cfg, err := Parse(path, data, Options{Dir: filepath.Dir(abs), Getenv: getenv, Open: openSecret, PEM: openPEM})
	if err != nil {
		return nil, err
	}
	cfg.Path = abs
	return cfg, nil
}

// Parse reads a configuration from data; name stands for the file in
// problems. Its only error is *Errors.
func Parse(name string, data []byte, opts Options) (*Config, error) {
	root, problem := readDocument(name, data)
	if problem != nil {
		return nil, &Errors{Problems: []Problem{*problem}}
	}
	cfg, r := read(name, root, opts)
	if len(r.problems) > 0 {
		return nil, &Errors{Problems: inFileOrder(r.problems)}
	}
	cfg.Warnings = inFileOrder(r.warnings)
	cfg.missing, cfg.unfit = inFileOrder(r.missing), inFileOrder(r.unfit)
	return cfg, nil
}

func read(name string, root *yaml.Node, opts Options) (*Config, *reader) {
	r := &reader{file: name, opts: opts, asked: map[string]bool{}}
	cfg := &Config{Path: name}
	top := value{r: r, node: root, at: root}
	r.whole(top.table(), cfg)
	return cfg, r
}

// whole reads the file from the top.
func (r *reader) whole(t *table, cfg *Config) {
	readVersion(t.need("version", "1"))
	cfg.Store = readStore(t.get("store").table())
	cfg.Broker = readBroker(t.get("broker"))
	cfg.Embedded = readEmbedded(t.get("embedded_broker"), cfg.Broker != nil)
	cfg.Sources = readSources(t.get("sources"))
	cfg.Fleet.Sites = readSites(t.need("sites", "a list of at least one site"))
	cfg.Fleet.Heaters = readHeaters(t.need("heaters", "a list of heaters"), cfg.Fleet.Sites)
	cfg.Plan = readPlan(t.get("service_plan"))
	cfg.Season = readSeason(t.get("season"))
	readNotify(t.get("notify"), cfg)
	readOnCall(t.get("on_call"), cfg.Fleet.Sites, &cfg.Notify)
	cfg.HTTP = readHTTP(t.get("http"))
	cfg.History = readHistory(t.get("history"))
	cfg.Heartbeat = readHeartbeat(t.get("heartbeat"))
	cfg.Lateness = t.get("lateness").duration(defaultLateness, 0, maxLateness)
	cfg.Backlog = t.get("backlog").duration(defaultBacklog, minBacklog, maxBacklog)
	cfg.Log = readLog(t.get("log").table())
	t.close()
	r.tellStrangers()
}

func readVersion(v value) {
	if raw, ok := v.scalar("the number 1", "!!int"); ok && raw != "1" {
		v.fail("the number 1", "found %s", clip(raw))
	}
}

// file gives an absolute path; relative ones start from the configuration.
// Folders that a service is given are named by the environment.
func (v value) file() string {
	s := v.expanded()
	if s == "" {
		return ""
	}
	return v.r.absolute(s)
}

func (r *reader) absolute(path string) string {
	if filepath.IsAbs(path) {
		return filepath.Clean(path)
	}
	return filepath.Join(r.opts.Dir, path)
}

// expanded is line with ${NAME} replaced by the environment's word for it.
func (v value) expanded() string {
	s := v.line("")
	if !strings.Contains(s, "${") {
		return s
	}
	return v.expand(s)
}

func (v value) expand(s string) string {
	var b strings.Builder
	for {
		before, rest, found := strings.Cut(s, "${")
		b.WriteString(before)
		if !found {
			return b.String()
		}
		name, after, closed := strings.Cut(rest, "}")
		if !closed {
			v.fail("${NAME}", "found ${ without }")
			return ""
		}
		word, set := v.getenv(name)
		if !set {
			v.absent("a variable that is set", "the environment has no %s", clip(name))
			return ""
		}
		b.WriteString(word)
		s = after
	}
}

func (v value) getenv(name string) (string, bool) {
	if v.r.opts.Getenv == nil {
		return "", false
	}
	return v.r.opts.Getenv(name)
}
