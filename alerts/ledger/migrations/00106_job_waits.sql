-- +goose Up

-- With an index over all states SQLite took that one to find what is due, and read
-- every message that waits for a later step. These hold only what is not sent, and
-- each answers one question: what was made ahead of the clock, and how many wait.
DROP INDEX job_by_state;
CREATE INDEX job_created ON job (created) WHERE state = 'pending';
CREATE INDEX job_unsent ON job (state, created) WHERE state IN ('pending', 'dead');

-- +goose Down
DROP INDEX job_unsent;
DROP INDEX job_created;
CREATE INDEX job_by_state ON job (state, created);
