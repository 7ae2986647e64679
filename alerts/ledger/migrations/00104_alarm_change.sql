-- +goose Up

-- Nothing asks for the changes of one heater; each change was entered there all
-- the same.
DROP INDEX alarm_change_by_heater;

-- +goose Down
CREATE INDEX alarm_change_by_heater ON alarm_change (heater, at);
