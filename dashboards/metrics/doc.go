// Package metrics is the /metrics page: what the alarm engine knows of the
// fleet, and how the daemon itself is doing, for Prometheus.
//
//	fold.View, ingest.Stats, … ─fill─▶ page ─┐
//	histogram, Go runtime ─────registry──────┴─▶ promhttp ─▶ scrape
//
// Nothing is counted here for the fleet: every scrape takes stock anew, so a
// heater, task or alarm that is gone is gone from the page. While a node is
// silent its values are left out, because the last word of a silent node is
// not how things are; heaterd_node_last_reading_timestamp_seconds stays, and
// so do conclusions from what was kept (burns, service, alarms). No sample
// carries a timestamp of its own, which would switch Prometheus's staleness
// handling off.
//
// Names carry the prefix heaterd_ and base units: s, °C, ratios of 1. Carbon
// monoxide stays in parts per million, the unit in which limits are written.
//
// A page keeps its samples and label pairs from one scrape to the next, so a
// scrape costs little more than writing the text. Pages are handed out one per
// scrape; any number of scrapes may run at once.
package metrics
