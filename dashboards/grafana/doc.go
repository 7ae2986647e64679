// Package grafana holds three dashboards for Grafana and what it needs to load
// them by itself:
//
//	fleet.json    every site at a glance
//	heater.json   one heater: flame, fuel, service, the air around it
//	daemon.json   how heaterd itself is doing
//	provisioning  the Prometheus data source, by the uid that every panel names
//
// The dashboards are written by the program in generate, from tables of panels;
// change those, not the files. Every panel's query is run by the tests against
// a real Prometheus that scraped the daemon's page.
//
// The package has no code: the daemon never reads the files.
package grafana

//go:generate go run ./generate
