-- +goose Up

-- Nodes by number, so that a row of the log need not repeat the name.
-- span is the longest time (µs) between the first and last sample of any pack
-- of the node: how far behind its last sample a pack can reach.
CREATE TABLE node (
    id   INTEGER NOT NULL PRIMARY KEY,
    name TEXT    NOT NULL UNIQUE,
    span INTEGER NOT NULL DEFAULT 0
) STRICT;

-- The log. Times are µs since 1970 UTC. first_at and last_at are the measuring
-- times of a pack's samples; retained is 0 or 1.
CREATE TABLE log (
    id       INTEGER NOT NULL PRIMARY KEY,
    at       INTEGER NOT NULL,
    kind     INTEGER NOT NULL,
    retained INTEGER NOT NULL,
    node     INTEGER REFERENCES node (id),
    first_at INTEGER,
    last_at  INTEGER,
    body     BLOB
) STRICT;

CREATE INDEX log_by_node ON log (node, last_at, first_at) WHERE kind = 1;

-- Old readings: the samples of one node and hour (hours since 1970 UTC).
CREATE TABLE block (
    node INTEGER NOT NULL REFERENCES node (id),
    hour INTEGER NOT NULL,
    body BLOB    NOT NULL,
    PRIMARY KEY (node, hour)
) STRICT;

-- The figures of one node and hour, for charts over a season.
CREATE TABLE hour (
    node       INTEGER NOT NULL REFERENCES node (id),
    hour       INTEGER NOT NULL,
    samples    INTEGER NOT NULL,
    seen_s     REAL    NOT NULL,
    lit_s      REAL    NOT NULL,
    co_n       INTEGER NOT NULL,
    co_min     REAL    NOT NULL,
    co_sum     REAL    NOT NULL,
    co_max     REAL    NOT NULL,
    temp_n     INTEGER NOT NULL,
    temp_min   REAL    NOT NULL,
    temp_sum   REAL    NOT NULL,
    temp_max   REAL    NOT NULL,
    PRIMARY KEY (node, hour)
) STRICT, WITHOUT ROWID;

-- What the followers of the log remember between starts.
CREATE TABLE snapshot (
    name   TEXT    NOT NULL PRIMARY KEY,
    cursor INTEGER NOT NULL,
    body   BLOB    NOT NULL
) STRICT;

-- Messages that could not be read, the newest few.
CREATE TABLE quarantine (
    id      INTEGER NOT NULL PRIMARY KEY,
    at      INTEGER NOT NULL,
    topic   TEXT    NOT NULL,
    node    TEXT    NOT NULL,
    reason  TEXT    NOT NULL,
    detail  TEXT    NOT NULL,
    payload BLOB    NOT NULL
) STRICT;

-- The store's own numbers: compacted (every pack up to this id is in block),
-- running (1 while open: still 1 at open means the last stop was not clean).
CREATE TABLE fact (
    name  TEXT    NOT NULL PRIMARY KEY,
    value INTEGER NOT NULL
) STRICT;

INSERT INTO fact (name, value) VALUES ('compacted', 0), ('running', 0);

-- +goose Down
DROP TABLE fact;
DROP TABLE quarantine;
DROP TABLE snapshot;
DROP TABLE hour;
DROP TABLE block;
DROP TABLE log;
DROP TABLE node;
