package metrics

import dto "github.com/prometheus/client_model/go"

// family describes one metric of the page.
type family struct {
	name, help string
	kind       dto.MetricType
	labels     []string // sorted
}

const (
	counter = dto.MetricType_COUNTER
	gauge   = dto.MetricType_GAUGE
)

// Names of labels.
const (
	labelEnding   = "ending"
	labelHeater   = "heater"
	labelKind     = "kind"
	labelLimit    = "limit"
	labelNode     = "node"
	labelPriority = "priority"
	labelReason   = "reason"
	labelSink     = "sink"
	labelSite     = "site"
	labelSpace    = "space"
	labelState    = "state"
	labelTask     = "task"
	labelWindow   = "window"
)

// Positions in families.
const (
	flameLit = iota
	runtimeTotal
	burnsTotal
	fuelRatio
	lastReading
	serviceRemaining
	serviceDue
	coPPM
	coAverage
	coCoverage
	coLimit
	cohbRatio
	cohbLimit
	airChanges
	temperature
	alarms
	mqttConnected
	messagesTotal
	duplicatesTotal
	samplesTotal
	ignoredTotal
	refusedTotal
	droppedTotal
	queueMessages
	commitsTotal
	linesTotal
	commitFailures
	uncleanStart
	alertLag
	alertFaults
	alertTurn
	outboxMessages
	outboxOldest
	sinkUp
	sinkLag
	sinkOldest
	sinkRejected
	buildInfo
	familyCount
)

var (
	ofHeater = []string{labelHeater, labelSite, labelSpace}
	ofSpace  = []string{labelSite, labelSpace}
	ofTask   = []string{labelHeater, labelSite, labelSpace, labelTask}
	ofSink   = []string{labelSink}
)

var families = [familyCount]family{
	flameLit:         {"heaterd_flame_lit", "Whether the heater's flame is seen, 1 or 0. Absent while its node is silent.", gauge, ofHeater},
	runtimeTotal:     {"heaterd_burner_runtime_seconds_total", "Burner run time since the heater is watched, best estimate. Absent while its node is silent.", counter, ofHeater},
	burnsTotal:       {"heaterd_burns_total", "Burns that ended, by why they ended, once that can no longer change.", counter, []string{labelEnding, labelHeater, labelSite, labelSpace}},
	fuelRatio:        {"heaterd_fuel_ratio", "Level of the heater's tank, 0 empty to 1 full, by reading or estimate. Absent while its node is silent.", gauge, ofHeater},
	lastReading:      {"heaterd_node_last_reading_timestamp_seconds", "When the node's last telemetry arrived, by the daemon's clock.", gauge, []string{labelHeater, labelNode, labelSite, labelSpace}},
	serviceRemaining: {"heaterd_service_remaining_burner_seconds", "Burner run time left until the task is due, negative when past.", gauge, ofTask},
	serviceDue:       {"heaterd_service_due_timestamp_seconds", "Start of the day on which the task is expected to be due.", gauge, ofTask},
	coPPM:            {"heaterd_space_co_ppm", "Carbon monoxide in the space's air, highest of the sensors' latest readings, parts per million. An area reading: not a listed alarm, and a low one does not prove safe air.", gauge, ofSpace},
	coAverage:        {"heaterd_space_co_average_ppm", "Time-weighted average of carbon monoxide over the window, parts per million; missing stretches count at the worse end.", gauge, []string{labelSite, labelSpace, labelWindow}},
	coCoverage:       {"heaterd_space_co_coverage_ratio", "Share of the window that readings of carbon monoxide cover.", gauge, []string{labelSite, labelSpace, labelWindow}},
	coLimit:          {"heaterd_space_co_limit_ppm", "The site's limit for carbon monoxide, parts per million: ceiling, short-term (15 min average) or shift (8 h average).", gauge, []string{labelLimit, labelSite, labelSpace}},
	cohbRatio:        {"heaterd_space_carboxyhaemoglobin_ratio", "Estimated carboxyhaemoglobin of a person in the space at the site's activity, share of haemoglobin.", gauge, ofSpace},
	cohbLimit:        {"heaterd_space_carboxyhaemoglobin_limit_ratio", "The site's action figure for the carboxyhaemoglobin estimate, share of haemoglobin.", gauge, ofSpace},
	airChanges:       {"heaterd_space_air_changes_per_second", "Rate at which the space's air is changed, from the fall of carbon monoxide after the flames went out.", gauge, ofSpace},
	temperature:      {"heaterd_space_temperature_celsius", "Air temperature in the space, lowest of the sensors' latest readings.", gauge, ofSpace},
	alarms:           {"heaterd_alarms", "Alarms that are not normal. Every kind shows at least one series, at zero if need be.", gauge, []string{labelKind, labelPriority, labelState}},
	mqttConnected:    {"heaterd_mqtt_connected", "Whether the connection to the MQTT broker is open, 1 or 0.", gauge, nil},
	messagesTotal:    {"heaterd_messages_total", "Messages taken from the broker.", counter, nil},
	duplicatesTotal:  {"heaterd_messages_duplicates_total", "Messages that the broker marked as delivered before.", counter, nil},
	samplesTotal:     {"heaterd_samples_total", "Samples read out of messages.", counter, nil},
	ignoredTotal:     {"heaterd_records_ignored_total", "Records of unknown name that were passed over within readable messages.", counter, nil},
	refusedTotal:     {"heaterd_messages_refused_total", "Messages that could not be read, by reason.", counter, []string{labelReason}},
	droppedTotal:     {"heaterd_messages_dropped_total", "Messages with QoS 0 that were lost because too many waited to be kept.", counter, nil},
	queueMessages:    {"heaterd_ingest_queue_messages", "Messages that wait to be kept.", gauge, nil},
	commitsTotal:     {"heaterd_store_commits_total", "Transactions that kept what came in.", counter, nil},
	linesTotal:       {"heaterd_store_lines_total", "Lines kept in the log.", counter, nil},
	commitFailures:   {"heaterd_store_commit_failures_total", "Transactions that failed; their messages are tried again.", counter, nil},
	uncleanStart:     {"heaterd_store_unclean_start", "Whether the daemon was killed or lost power before this start, 1 or 0. Nothing acknowledged is missing.", gauge, nil},
	alertLag:         {"heaterd_alert_lag_rows", "Lines of the log that the alarm engine has not read yet.", gauge, nil},
	alertFaults:      {"heaterd_alert_faults_total", "Lines whose meaning was lost to a fault in a rule.", counter, nil},
	alertTurn:        {"heaterd_alert_turn_timestamp_seconds", "When the alarm engine's loop last turned.", gauge, nil},
	outboxMessages:   {"heaterd_outbox_messages", "Messages to people: pending, or dead (given up).", gauge, []string{labelState}},
	outboxOldest:     {"heaterd_outbox_oldest_pending_seconds", "How long the longest-waiting pending message is past its time, or was tried in vain, 0 where none is.", gauge, nil},
	sinkUp:           {"heaterd_sink_up", "Whether the last write to the sink was taken, 1 or 0.", gauge, ofSink},
	sinkLag:          {"heaterd_sink_lag_rows", "Lines of the log that are not written to the sink yet.", gauge, ofSink},
	sinkOldest:       {"heaterd_sink_oldest_unsent_seconds", "How long ago the oldest line arrived that is not written to the sink yet, 0 where none is.", gauge, ofSink},
	sinkRejected:     {"heaterd_sink_rejected_lines_total", "Lines that the sink refused for good.", counter, ofSink},
	buildInfo:        {"heaterd_build_info", "Always 1; the labels say which build runs.", gauge, []string{"goversion", "revision", "version"}},
}

const (
	commitSecondsName = "heaterd_store_commit_duration_seconds"
	commitSecondsHelp = "Time that one transaction took to be durable."
)
