// Package mqtt receives messages from a broker and publishes to it, over
// MQTT 3.1.1 with QoS 1.
//
//	broker ──▶ Subscriber ──Messages──▶ the ingest loop
//	   ▲            ▲                        │ keeps it
//	   │            └──────Message.Ack───────┘
//	   └── Publisher.Publish
//
// # What a Subscriber promises
//
// It holds a persistent session, so the broker queues while the daemon is
// away, and acknowledges nothing by itself: a message that was not
// acknowledged comes again after the next connect. It subscribes anew on every
// connect, for a broker that was killed has forgotten the session; this makes
// the broker repeat its retained messages, which are marked. Filters of an
// earlier configuration are unsubscribed, for a session remembers them.
//
// Every connection is a fresh client of the library: what belongs to a lost
// one (its acknowledgements, its tokens) can then not be taken for the new
// one's, and certificates are read again each time. The password is the one of
// the configuration: a new one needs that to be read again (SIGHUP).
//
// # Order and flow
//
// Messages come in the broker's order and must be acknowledged in that order
// from one goroutine. Acknowledgements are written many at once, by a
// goroutine of their own, so that Ack never waits for the network. The queue
// holds more than the broker's window of unacknowledged messages, so reading
// the socket, and with it the keep-alive, never waits for the consumer. QoS 0
// messages that find the queue full are dropped and counted.
//
// # Stopping
//
// When the context of Run ends, Messages is closed, Run waits until what it
// delivered has been acknowledged (up to a deadline), says "offline" on the
// status topic and disconnects, leaving the session in place.
package mqtt
