-- +goose Up

-- thinned: blocks of hours before this one (hours since 1970 UTC) hold only
-- what run-hours rest on.
INSERT INTO fact (name, value) VALUES ('thinned', -9223372036854775808);

-- +goose Down
DELETE FROM fact WHERE name = 'thinned';
