// Package mqtttest starts brokers for tests: a real Mosquitto with the
// configuration that is shipped, on a free port of loopback.
package mqtttest
