-- +goose Up

-- Times are µs since 1970 UTC; flags are 0 or 1; bodies are JSON.

-- How far the log has been folded: one row.
CREATE TABLE ledger (
    one    INTEGER NOT NULL PRIMARY KEY CHECK (one = 1),
    cursor INTEGER NOT NULL
) STRICT;

INSERT INTO ledger (one, cursor) VALUES (1, 0);

-- Every occurrence of every alarm, as it is now. place tells what the alarm is
-- about: one place has one occurrence that is not over at most.
CREATE TABLE alarm (
    id    TEXT    NOT NULL PRIMARY KEY,
    place TEXT    NOT NULL,
    n     INTEGER NOT NULL,
    seq   INTEGER NOT NULL,
    state TEXT    NOT NULL,
    body  TEXT    NOT NULL
) STRICT;

CREATE INDEX alarm_by_place ON alarm (place, n);

-- Every change of state of every alarm, for ever. seq counts within the alarm.
-- quiets: nobody needs to be told any more of what came before.
CREATE TABLE alarm_change (
    alarm  TEXT    NOT NULL,
    seq    INTEGER NOT NULL,
    at     INTEGER NOT NULL,
    kind   TEXT    NOT NULL,
    site   TEXT    NOT NULL,
    heater TEXT    NOT NULL,
    quiets INTEGER NOT NULL,
    body   TEXT    NOT NULL,
    PRIMARY KEY (alarm, seq)
) STRICT;

CREATE INDEX alarm_change_by_time ON alarm_change (at);
CREATE INDEX alarm_change_by_heater ON alarm_change (heater, at);

-- Burns. A provisional one (final = 0) gives way to any later word on the same
-- stretch of time; a final one never changes.
CREATE TABLE burn (
    heater   TEXT    NOT NULL,
    start_at INTEGER NOT NULL,
    end_at   INTEGER NOT NULL,
    final    INTEGER NOT NULL,
    body     TEXT    NOT NULL,
    PRIMARY KEY (heater, start_at)
) STRICT;

CREATE INDEX burn_by_end ON burn (heater, end_at);

-- The service log, for ever; line is the line of the log it came in.
CREATE TABLE entry (
    line   INTEGER NOT NULL PRIMARY KEY,
    at     INTEGER NOT NULL,
    heater TEXT    NOT NULL,
    task   TEXT    NOT NULL,
    body   TEXT    NOT NULL
) STRICT;

CREATE INDEX entry_by_heater ON entry (heater, at);

-- The outbox: messages to people. seq is the change of the alarm that called
-- for it. state is pending, sent, dead or cancelled.
CREATE TABLE job (
    id           TEXT    NOT NULL PRIMARY KEY,
    alarm        TEXT    NOT NULL,
    seq          INTEGER NOT NULL,
    channel      TEXT    NOT NULL,
    person       TEXT    NOT NULL,
    step         INTEGER NOT NULL,
    body         TEXT    NOT NULL,
    state        TEXT    NOT NULL,
    attempts     INTEGER NOT NULL,
    created      INTEGER NOT NULL,
    next_attempt INTEGER NOT NULL,
    last_error   TEXT    NOT NULL,
    delivered_at INTEGER NOT NULL
) STRICT;

CREATE INDEX job_pending ON job (next_attempt) WHERE state = 'pending';
CREATE INDEX job_by_alarm ON job (alarm, seq);
CREATE INDEX job_by_state ON job (state, created);

-- Every attempt to send, for ever.
CREATE TABLE delivery (
    id    INTEGER NOT NULL PRIMARY KEY,
    job   TEXT    NOT NULL,
    at    INTEGER NOT NULL,
    ok    INTEGER NOT NULL,
    error TEXT    NOT NULL
) STRICT;

CREATE INDEX delivery_by_job ON delivery (job, at);

-- +goose Down
DROP TABLE delivery;
DROP TABLE job;
DROP TABLE entry;
DROP TABLE burn;
DROP TABLE alarm_change;
DROP TABLE alarm;
DROP TABLE ledger;
