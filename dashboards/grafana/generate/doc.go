// The program generate writes the Grafana dashboards. Run it by
//
//	go generate ./dashboards/grafana
//
// A board is a table of panels in order; layout gives them their places in
// Grafana's 24 columns, and panel.go turns each into what Grafana reads. The
// same tables give the same bytes.
//
// It is a program of its own so that the library it uses stays out of the
// daemon.
package main
