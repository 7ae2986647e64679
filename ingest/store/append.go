package store

import (
	"context"
	"database/sql"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"time"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// kind is what a row of the log holds. The numbers are in the file: never
// change them. Queries by node and time say kind = 1 outright, as
// does the index log_by_node, which has packs only.
type kind int

const (
	kindTick     kind = 0
	kindPack     kind = 1
	kindStatus   kind = 2
	kindEntry    kind = 3
	kindStop     kind = 4
	kindAnswer   kind = 5
	kindRefused  kind = 6
	kindNotice   kind = 7
	kindWithdraw kind = 8
)

// Batch is what one transaction keeps.
type Batch struct {
	Lines       []record.Line
	Quarantined []Quarantined
}

// Keep keeps a batch in one durable transaction, in order, and writes the ids
// of its lines into them. It returns the last id; after an error nothing was
// kept and the ids mean nothing.
func (s *Store) Keep(ctx context.Context, b Batch) (last int64, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := s.refresh(ctx); err != nil {
		return 0, wrap("append to the log", err)
	}
	before := s.last.Load()
	for i := range b.Lines {
		b.Lines[i].ID = before + 1 + int64(i)
	}
	if err := s.commit(ctx, b); err != nil {
		s.stale = true
		return 0, wrap("append to the log", err)
	}
	return s.last.Add(int64(len(b.Lines))), nil
}

// refresh reads again what Keep keeps in memory after a transaction failed:
// its nodes may not be there, and it may have been kept after all.
func (s *Store) refresh(ctx context.Context) error {
	if !s.stale {
		return nil
	}
	err := s.reload(ctx)
	s.stale = err != nil
	return err
}

// commit runs to its end once begun: it is short, and watching ctx for every
// row would cost more than the row.
func (s *Store) commit(ctx context.Context, b Batch) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	ctx = context.WithoutCancel(ctx)
	return s.inTx(ctx, func(tx *sql.Tx) error {
		if err := s.insertLines(ctx, tx, b.Lines); err != nil {
			return err
		}
		return s.insertQuarantine(ctx, tx, b.Quarantined)
	})
}

// insertLine has parameters without a number: SQLite would look each one's
// name up in a list.
const insertLine = `INSERT INTO log (id, at, kind, retained, node, first_at, last_at, body) VALUES (?, ?, ?, ?, ?, ?, ?, ?)`

func (s *Store) insertLines(ctx context.Context, tx *sql.Tx, lines []record.Line) (err error) {
	insert := tx.StmtContext(ctx, s.insert)
	args := s.args[:0]
	defer func() { clear(args); s.args = args[:0] }()
	for i := range lines {
		if args, err = s.appendArgs(ctx, tx, args[:0], &lines[i]); err != nil {
			return err
		}
		if _, err := insert.ExecContext(ctx, args...); err != nil {
			return err
		}
	}
	return nil
}

// appendArgs appends the columns of a line's row.
func (s *Store) appendArgs(ctx context.Context, tx *sql.Tx, args []any, l *record.Line) ([]any, error) {
	r, err := rowOf(l)
	if err != nil {
		return args, err
	}
	var node, first, last any
	if r.node != "" {
		id, err := s.nodeID(ctx, tx, r.node, r.last-r.first)
		if err != nil {
			return args, err
		}
		node = id
	}
	if r.kind == kindPack {
		first, last = int64(r.first), int64(r.last)
	}
	return append(args, l.ID, int64(l.At), int64(r.kind), asInt(l.Retained), node, first, last, r.body), nil
}

// nodeID finds or makes the number of a node and widens its span.
func (s *Store) nodeID(ctx context.Context, tx *sql.Tx, name reading.NodeID, span reading.Instant) (int64, error) {
	n, ok := s.nodes[string(name)]
	if ok && int64(span) <= n.span {
		return n.id, nil
	}
	err := tx.QueryRowContext(ctx, `INSERT INTO node (name, span) VALUES ($1, $2)
		ON CONFLICT (name) DO UPDATE SET span = excluded.span RETURNING id`, string(name), int64(span)).Scan(&n.id)
	if err != nil {
		return 0, err
	}
	n.span = int64(span)
	s.nodes[string(name)] = n
	return n.id, nil
}

// row is a line as the log keeps it.
type row struct {
	kind        kind
	node        reading.NodeID
	first, last reading.Instant
	body        []byte
}

func rowOf(l *record.Line) (row, error) {
	switch {
	case l.Pack != nil:
		return packRow(l.At, l.Pack), nil
	case l.Status != nil:
		return jsonRow(kindStatus, l.Status.Node, l.Status.Online)
	case l.Entry != nil:
		return jsonRow(kindEntry, "", l.Entry)
	case l.Stop != nil:
		return jsonRow(kindStop, "", l.Stop)
	case l.Withdraw != nil:
		return jsonRow(kindWithdraw, "", l.Withdraw)
	case l.Answer != nil:
		return jsonRow(kindAnswer, "", l.Answer)
	case l.Refused != nil:
		return jsonRow(kindRefused, "", l.Refused)
	case l.Notice != nil:
		return jsonRow(kindNotice, "", l.Notice)
	}
	return row{kind: kindTick}, nil
}

func jsonRow(k kind, node reading.NodeID, v any) (row, error) {
	body, err := json.Marshal(v)
	return row{kind: k, node: node, body: body}, err
}

// packRow encodes a pack: what it promised and passed over, then its samples
// by time after arrival.
func packRow(at reading.Instant, p *reading.Pack) row {
	r := row{kind: kindPack, node: p.Node, first: at, last: at}
	r.body = binary.AppendVarint(make([]byte, 0, 32+16*len(p.Samples)), int64(p.Within))
	r.body = binary.AppendVarint(r.body, int64(p.Ignored))
	r.body = appendSamples(r.body, at, p.Samples)
	for i, s := range p.Samples {
		if i == 0 {
			r.first, r.last = s.At, s.At
		}
		r.first, r.last = min(r.first, s.At), max(r.last, s.At)
	}
	return r
}

func asInt(b bool) int64 {
	if b {
		return 1
	}
	return 0
}

// tell writes the line a row holds into l, whose At is already set.
func (r row) tell(l *record.Line) error {
	switch r.kind {
	case kindTick:
		return nil
	case kindPack:
		return r.tellPack(l)
	case kindStatus:
		l.Status = &record.Status{Node: r.node}
		return json.Unmarshal(r.body, &l.Status.Online)
	case kindEntry:
		return json.Unmarshal(r.body, &l.Entry)
	case kindStop:
		return json.Unmarshal(r.body, &l.Stop)
	case kindWithdraw:
		return json.Unmarshal(r.body, &l.Withdraw)
	case kindAnswer:
		return json.Unmarshal(r.body, &l.Answer)
	case kindRefused:
		return json.Unmarshal(r.body, &l.Refused)
	case kindNotice:
		return json.Unmarshal(r.body, &l.Notice)
	}
	return fmt.Errorf("%w: line of kind %d", errFormat, r.kind)
}

func (r row) tellPack(l *record.Line) error {
	samples, pack, err := decodePack(nil, r.body, l.At)
	pack.Node, pack.Samples = r.node, samples
	l.Pack = &pack
	return err
}

// decodePack appends a pack's samples to dst and gives the rest of it.
func decodePack(dst []reading.Sample, body []byte, at reading.Instant) ([]reading.Sample, reading.Pack, error) {
	c := cursor{b: body}
	p := reading.Pack{Within: time.Duration(c.varint()), Ignored: int(c.varint())}
	dst = c.samples(dst, at)
	return dst, p, c.err
}
