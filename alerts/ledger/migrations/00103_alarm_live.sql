-- +goose Up

-- The alarms that are not over, which are few, among all that there ever were.
CREATE INDEX alarm_live ON alarm (place) WHERE state <> 'normal';

-- +goose Down
DROP INDEX alarm_live;
