-- +goose Up

-- Where the configuration had each heater, from when on, in microseconds since
-- 1970, for ever. An empty site: it had it no more.
CREATE TABLE stand (
    heater TEXT    NOT NULL,
    at     INTEGER NOT NULL,
    site   TEXT    NOT NULL,
    space  TEXT    NOT NULL,
    node   TEXT    NOT NULL,
    PRIMARY KEY (heater, at)
) STRICT;

-- +goose Down
DROP TABLE stand;
