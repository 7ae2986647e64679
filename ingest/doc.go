// Package ingest writes down what the sensors said: it takes messages from the
// broker, decodes them, keeps them in the log and only then acknowledges them.
//
//	mqtt.Message ─Decoder─▶ record.Line ─┐
//	Record (what people do) ─────────────┼─▶ batch ─▶ Log.Keep ─▶ Ack, in order ─▶ followers wake
//	a tick every 15 s ───────────────────┘
//
// Two goroutines share the work: one gathers and decodes messages, the other
// keeps a batch and acknowledges it meanwhile. There is one of each, so lines
// have one order. A batch is kept as soon as the last one is and nothing more
// waits: waiting for a count would stall on the broker's window of
// unacknowledged messages, waiting for time would delay every reading.
//
// # Failure
//
// While the store fails nothing is acknowledged; the batch is tried again with
// growing pauses, the broker keeps the rest, and Healthy says why. People's
// lines fail at once with the store's error, for a person can try again. A
// message that cannot be read is refused: it is counted, kept in the
// quarantine and acknowledged, for it would not get better.
//
// A node that sends more than its budget is refused in the same way, but only
// one such message a minute is written down.
//
// Messages of nodes that nobody listed are refused too: however many names
// are invented, neither the log nor memory grows by more than a few lines an
// hour.
//
// # Time
//
// Lines carry when they arrived by this machine's clock, which does not run
// backwards within the log but for a correction of over a minute.
//
// # Stopping
//
// When its context ends, Run keeps what has been delivered until the channel
// of messages is closed, then returns nil.
package ingest
