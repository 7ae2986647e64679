// Package metricstest makes fleets as the alarm engine would show them, for
// tests of whatever reads the metrics page. The fleet is invented, fixed and
// has one of everything: heaters that burn, stand, are silent, have no node.
package metricstest
