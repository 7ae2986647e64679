// Package heartbeat tells somebody outside, at intervals, that all is well,
// so that silence says it is not: whoever watches for it notices when the
// daemon, its machine or its network is gone, which the daemon cannot tell.
package heartbeat
