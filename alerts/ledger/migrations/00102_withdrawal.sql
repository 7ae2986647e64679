-- +goose Up

-- Entries of the service log that were withdrawn, for ever; entry is the line
-- of the entry, at when it was withdrawn, in microseconds since 1970.
CREATE TABLE withdrawal (
    entry INTEGER NOT NULL PRIMARY KEY,
    at    INTEGER NOT NULL,
    body  TEXT    NOT NULL
) STRICT;

-- +goose Down
DROP TABLE withdrawal;
