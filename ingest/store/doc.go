// Package store keeps everything that lasts in one SQLite file: the log of
// lines, the readings by node and time, the snapshots of those who follow the
// log, and the quarantine of messages that could not be read.
//
//	Keep ───▶ log ──Lines──▶ followers (alarm engine, history writer)
//	           │ Compact
//	           ▼
//	         block, hour ──Samples, Rollup──▶ charts, reports
//
// # Durability
//
// The file runs in WAL mode with synchronous=FULL and a line counts as kept
// only when Keep has returned nil; the broker is answered after that. Open
// refuses to work when the file system would not give these guarantees. What
// follows from the log is committed by Derive, which does not wait for the
// disk: after a loss of power it is found again.
//
// # Layout
//
// log holds one row per line by ascending id, whatever its kind; a telemetry
// pack is one row with its samples in a binary body (see encode.go). An index
// over node and time of measurement finds recent readings. Compact moves old
// packs into block, one row per node and hour, and writes the hour's figures
// for season charts into hour. Ids are never used twice.
//
// A row per pack was measured against a row per sample with a column for each
// quantity: 75,000 to 45,000–68,000 rows a second for packs of one sample, 256
// to a commit, on two cores, and packs of many samples cost no more rows. A
// sample of four quantities takes 100 bytes in the log with its index and 5 in
// a block.
//
// # Concurrency
//
// All methods may be called from any goroutine. There is one writing
// connection (transactions begin immediate) and a pool of read-only ones;
// readers never wait for the writer.
//
// # Failure
//
// A full disk, a lock held by another process, a read-only or vanished file
// come back as an error for which errors.Is(err, ErrUnavailable) holds, with
// a hint for the operator; nothing of the attempted transaction was kept and
// it may be tried again.
//
// The queries keep to the subset of SQL that PostgreSQL shares; the schema and
// the pragmas are SQLite's.
package store
