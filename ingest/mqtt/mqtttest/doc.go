// Package mqtttest starts brokers for tests: a real Mosquitto with the
// configuration that is shipped, and addresses that one test has to itself.
package mqtttest
