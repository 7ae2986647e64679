package ledger

import (
	"context"
	"database/sql"
	"fmt"

	"heaterd/alerts/fleet"
	"heaterd/ingest/reading"
	"heaterd/ingest/store"
)

// Stand is where the configuration had a heater from an instant on, until the
// heater's next: what was measured then belongs there, wherever it is now.
type Stand struct {
	Heater string
	At     reading.Instant // 0: as far back as anybody knows, for those of the first time that it was written down
	Place
}

// Place is a space, and the sensor unit that the configuration names in it.
type Place struct {
	Site  string // empty: the configuration has the heater no more
	Space string
	Node  reading.NodeID
}

// Place writes down where a configuration has its heaters from now on, as far
// as that is news. It waits for the disk: nothing else tells it again.
func (l *Ledger) Place(ctx context.Context, now reading.Instant, heaters []fleet.Heater) error {
	all, err := l.Stands(ctx, "")
	if err != nil {
		return err
	}
	if len(all) == 0 {
		now = 0
	}
	last := map[string]Stand{}
	for _, s := range all {
		last[s.Heater] = s
	}
	var news []Stand
	for _, h := range heaters {
		news = append(news, Stand{h.ID, now, Place{h.Site, h.Space, h.Node}})
	}
	for _, s := range gone(all, heaters) {
		news = append(news, Stand{Heater: s, At: now})
	}
	return l.stand(ctx, news, last)
}

// gone lists the heaters that stood somewhere and are configured no more.
func gone(all []Stand, heaters []fleet.Heater) (ids []string) {
	here := map[string]bool{}
	for _, h := range heaters {
		here[h.ID] = true
	}
	for _, s := range all {
		if !here[s.Heater] {
			here[s.Heater] = true
			ids = append(ids, s.Heater)
		}
	}
	return ids
}

func (l *Ledger) stand(ctx context.Context, news []Stand, last map[string]Stand) error {
	err := store.Transact(ctx, l.writer, func(tx *sql.Tx) error {
		for _, s := range news {
			was, known := last[s.Heater]
			if known && was.Place == s.Place {
				continue
			}
			if known {
				s.At = max(s.At, was.At+1) // a clock that was set back changes no order
			}
			if _, err := tx.ExecContext(ctx, `INSERT INTO stand (heater, at, site, space, node) VALUES ($1, $2, $3, $4, $5)`,
				s.Heater, int64(s.At), s.Site, s.Space, string(s.Node)); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("cannot write down where the heaters are: %w", err)
	}
	return nil
}

// Stands lists where a heater ever was, oldest first; an empty heater stands
// for all, one after the other.
func (l *Ledger) Stands(ctx context.Context, heater string) ([]Stand, error) {
	query, args := standsOf(heater)
	all, err := store.Collect(ctx, l.reader, scanStand, query, args...)
	if err != nil {
		return nil, fmt.Errorf("cannot read where the heaters were: %w", err)
	}
	return all, nil
}

func standsOf(heater string) (query string, args []any) {
	where := &terms{}
	where.add("heater = $%d", heater, heater != "")
	return `SELECT heater, at, site, space, node FROM stand` + where.String() + ` ORDER BY heater, at`, where.args
}

func scanStand(rows *sql.Rows) (s Stand, err error) {
	err = rows.Scan(&s.Heater, &s.At, &s.Site, &s.Space, &s.Node)
	return s, err
}
