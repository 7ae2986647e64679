-- +goose Up

-- The fittings, which are few among all entries: each CO record asks for all of
-- them.
CREATE INDEX entry_fitting ON entry (at, line) WHERE task = 'fit-node';

-- +goose Down
DROP INDEX entry_fitting;
