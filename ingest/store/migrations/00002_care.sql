-- +goose Up

-- pruned: blocks of hours before this one (hours since 1970 UTC) were deleted;
-- what arrives for them later is not kept, and their figures in hour stand.
-- begun: when the first line of all arrived, µs; 0 as long as the log still
-- holds it.
INSERT INTO fact (name, value) VALUES ('pruned', -9223372036854775808), ('begun', 0);

CREATE INDEX block_by_hour ON block (hour);

CREATE INDEX quarantine_by_time ON quarantine (at);

-- +goose Down
DROP INDEX quarantine_by_time;
DROP INDEX block_by_hour;
DELETE FROM fact WHERE name IN ('pruned', 'begun');
