// Package broker is the MQTT broker inside the daemon, for a site without one
// of its own: nats-server's MQTT 3.1.1 listener with its durable sessions.
//
// It keeps messages for a client that is away, across restarts of the daemon.
// Unless Options.Sync is set a power failure may lose what was acknowledged in
// the last moments; a fleet that matters runs its own broker.
//
// A message that a client has not acknowledged is handed on only after
// ackWait, also to the same client after it reconnected.
//
// A retained message is acknowledged a moment before it is retained: who
// subscribes for the first time in that moment hears of it only with the next
// one. heaterd's session is there before, except at its very first start.
package broker
