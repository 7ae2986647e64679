package main

// daemon is how heaterd itself is doing.
var daemon = board{
	name: "daemon.json", uid: "heaterd-daemon", title: "heaterd: daemon", from: "now-6h",
	about: "How heaterd itself is doing: what comes in, what is kept, what is judged, what is told.",
	rows: []row{
		{"Now", []panel{
			{title: "Answers", about: "Whether Prometheus can read heaterd's page.", kind: number, unit: unitNone, w: 4, h: 4,
				queries: single(`min(up{job="heaterd"})`), steps: mustBe, words: map[string]string{"0": "no", "1": "yes"}},
			{title: "Broker", about: "Whether the connection to the MQTT broker is open.", kind: number, unit: unitNone, w: 4, h: 4,
				queries: single(`min(heaterd_mqtt_connected)`), steps: mustBe, words: map[string]string{"0": "cut off", "1": "connected"}},
			{title: "Messages not delivered", about: "Messages to people that wait or were given up.", kind: number, unit: unitNone, w: 4, h: 4,
				queries: []query{q(`sum by (state) (heaterd_outbox_messages)`, "{{state}}")}, steps: fromOne(look)},
			{title: "Lines not judged", about: "Lines of the log that the alarm engine has not read yet.", kind: number, unit: unitNone, w: 4, h: 4,
				queries: single(`max(heaterd_alert_lag_rows)`), steps: []step{{0, good}, {500, look}, {1000, act}}},
			{title: "Last start", about: "Whether heaterd was killed or lost power before it started. Nothing acknowledged is missing.", kind: number, unit: unitNone, w: 4, h: 4,
				queries: single(`max(heaterd_store_unclean_start)`), steps: mustNot, words: map[string]string{"0": "clean", "1": "unclean"}},
			{title: "Version", about: "Which build runs.", kind: number, unit: unitNone, w: 4, h: 4,
				queries: []query{q(`heaterd_build_info`, "{{version}}")}},
		}},
		{"What comes in", []panel{
			{title: "Messages and samples", about: "Messages from the broker, those it marked as delivered before, and samples read out of them, per second.", unit: unitRate, w: 12, h: 8, min: zero,
				queries: []query{
					q(`sum(rate(heaterd_messages_total[$__rate_interval]))`, "messages"),
					q(`sum(rate(heaterd_messages_duplicates_total[$__rate_interval]))`, "delivered before"),
					q(`sum(rate(heaterd_samples_total[$__rate_interval]))`, "samples"),
					q(`sum(rate(heaterd_records_ignored_total[$__rate_interval]))`, "records passed over"),
				}},
			{title: "Messages refused, by reason", about: "Messages that could not be read, per second. They are in quarantine. Those lost came with QoS 0 while too many waited.", kind: stacks, unit: unitRate, w: 12, h: 8, min: zero,
				queries: []query{
					q(`sum by (reason) (rate(heaterd_messages_refused_total[$__rate_interval]))`, "{{reason}}"),
					q(`sum(rate(heaterd_messages_dropped_total[$__rate_interval]))`, "lost"),
				}},
		}},
		{"What is kept", []panel{
			{title: "Time to keep", about: "How long a transaction takes to be durable: half, and all but one in a hundred, are faster.", unit: unitSeconds, w: 12, h: 8, min: zero,
				queries: []query{
					q(`histogram_quantile(0.5, sum by (le) (rate(heaterd_store_commit_duration_seconds_bucket[$__rate_interval])))`, "half"),
					q(`histogram_quantile(0.99, sum by (le) (rate(heaterd_store_commit_duration_seconds_bucket[$__rate_interval])))`, "99 of 100"),
				}},
			{title: "Transactions and lines", about: "Transactions, the lines kept in them, and transactions that failed, per second.", unit: unitRate, w: 12, h: 8, min: zero,
				queries: []query{
					q(`sum(rate(heaterd_store_commits_total[$__rate_interval]))`, "transactions"),
					q(`sum(rate(heaterd_store_lines_total[$__rate_interval]))`, "lines"),
					q(`sum(rate(heaterd_store_commit_failures_total[$__rate_interval]))`, "failed"),
				}},
			{title: "Messages that wait", about: "Messages in the queue before the store.", unit: unitNone, w: 12, h: 7, min: zero,
				queries: []query{q(`max(heaterd_ingest_queue_messages)`, "waiting")}},
			{title: "Copies elsewhere", about: "How long ago the oldest line arrived that a copy does not have yet.", unit: unitSpan, w: 12, h: 7, min: zero,
				queries: []query{q(`max by (sink) (heaterd_sink_oldest_unsent_seconds)`, "{{sink}}")}},
			{title: "Lines a copy lacks", about: "Lines of the log that are not written to a copy yet.", unit: unitNone, w: 12, h: 7, min: zero,
				queries: []query{q(`max by (sink) (heaterd_sink_lag_rows)`, "{{sink}}")}},
			{title: "Records a copy refused", about: "Records refused for good, over the last hour, and whether the last write was taken.", unit: unitNone, w: 12, h: 7, min: zero,
				queries: []query{
					q(`sum by (sink) (increase(heaterd_sink_rejected_lines_total[1h]))`, "{{sink}} refused"),
					q(`min by (sink) (heaterd_sink_up)`, "{{sink}} takes (1) or not (0)"),
				}},
		}},
		{"What is judged and told", []panel{
			{title: "Lines not judged", about: "Lines of the log that the alarm engine has not read yet.", unit: unitNone, w: 8, h: 7, min: zero,
				queries: []query{q(`max(heaterd_alert_lag_rows)`, "lines")}},
			{title: "Since the alarm loop turned", about: "It turns at least every tick of 15 s.", unit: unitSpan, w: 8, h: 7, min: zero,
				queries: []query{q(`time() - max(heaterd_alert_turn_timestamp_seconds)`, "since")}},
			{title: "Faults in rules", about: "Lines whose meaning was lost to a fault, over the last hour.", unit: unitNone, w: 8, h: 7, min: zero,
				queries: []query{q(`sum(increase(heaterd_alert_faults_total[1h]))`, "lines")}},
			{title: "Messages to people", about: "Messages that wait, and those given up.", unit: unitNone, w: 12, h: 7, min: zero,
				queries: []query{q(`sum by (state) (heaterd_outbox_messages)`, "{{state}}")}},
			{title: "Longest wait", about: "How long the longest-waiting message to a person is past its time.", unit: unitSpan, w: 12, h: 7, min: zero,
				queries: []query{q(`max(heaterd_outbox_oldest_pending_seconds)`, "waiting")}},
		}},
		{"Process", []panel{
			{title: "Memory", about: "Resident memory, and the heap in use.", unit: unitBytes, w: 8, h: 7, min: zero,
				queries: []query{
					q(`process_resident_memory_bytes{job="heaterd"}`, "resident"),
					q(`go_memstats_heap_inuse_bytes{job="heaterd"}`, "heap"),
				}},
			{title: "Processor", about: "Share of one processor.", unit: unitRatio, w: 8, h: 7, min: zero,
				queries: []query{q(`rate(process_cpu_seconds_total{job="heaterd"}[$__rate_interval])`, "{{instance}}")}},
			{title: "Goroutines", about: "A number that only grows is a leak.", unit: unitNone, w: 8, h: 7, min: zero,
				queries: []query{q(`go_goroutines{job="heaterd"}`, "{{instance}}")}},
		}},
	},
}
