package config

import (
	"cmp"
	"time"
)

const (
	defaultStore      = "heaterd.db"
	defaultQuarantine = 1000 // messages; common practice, no source

	// defaultLateness covers a node that buffers through a short loss of
	// radio. Common practice, no source.
	defaultLateness = 10 * time.Minute
	maxLateness     = 24 * time.Hour

	// defaultBacklog covers a week without a network. Common practice, no
	// source.
	defaultBacklog = 168 * time.Hour
	minBacklog     = time.Hour
	maxBacklog     = 366 * 24 * time.Hour

	defaultHeartbeat = time.Minute
)

// keepDays goes up to a hundred years.
var keepDays = span{0, 36500, "days, 0 keeps for ever"}

func readStore(t *table) Store {
	s := Store{
		Path:       cmp.Or(t.get("path").file(), t.r.absolute(defaultStore)),
		Quarantine: t.get("quarantine").whole(defaultQuarantine, span{0, 1_000_000, "messages"}),
	}
	retention := t.get("retention").table()
	s.ReadingsDays = retention.get("readings_days").whole(0, keepDays)
	retention.close()
	t.close()
	return s
}

func readHistory(v value) *Influx {
	t := v.table()
	influx := t.need("influx", "a table of url, org, bucket and token_file").table()
	i := &Influx{
		URL:    influx.need("url", "http://host:8086").address("http", "https"),
		Org:    influx.need("org", "the organisation's name").expanded(),
		Bucket: influx.need("bucket", "the bucket's name").expanded(),
		Token:  influx.get("token_file").secret(),
	}
	influx.close()
	t.close()
	if !influx.given() {
		return nil
	}
	return i
}

func readHeartbeat(v value) *Heartbeat {
	t := v.table()
	h := &Heartbeat{
		URL:   t.need("url", "an address to call, https://…").address("https", "http"),
		Every: t.get("every").duration(defaultHeartbeat, 10*time.Second, 24*time.Hour),
	}
	t.close()
	if !t.given() {
		return nil
	}
	return h
}

func readLog(t *table) Log {
	l := Log{
		Level:  t.get("level").oneOf("info", "debug", "info", "warn", "error"),
		Format: t.get("format").oneOf("text", "text", "json"),
	}
	t.close()
	return l
}
