// Package topic says which MQTT topics a filter takes and what stands at a
// topic's levels, as MQTT 3.1.1 section 4.7 has it.
//
//	sites/+/nodes/+/telemetry  takes  sites/quay/nodes/n-07/telemetry
//	  1   2   3   4     5             level 4 is the node
//
// It is pure and allocates nothing on the path of a message.
package topic
