//go:build !race

package dashboards_test

// raced says that the race detector slows everything down.
const raced = false
