// Package webhook sends messages as HTTP requests.
//
//	notify.Message ─▶ CloudEvent (structured JSON) ─▶ signed POST ─▶ 2xx, or why not
//
// The body is a CloudEvents 1.0 event in structured mode; the headers are
// those of Standard Webhooks 1.0: webhook-id stays the same over all attempts
// and is the receiver's key against repetition, webhook-timestamp is the time
// of the attempt, webhook-signature is HMAC-SHA256 over id, timestamp and the
// very bytes sent, once for each key, so that a key can be replaced without a
// gap.
//
// As CloudEvents' HTTP webhook rules 1.0.2 say: only 2xx is success, redirects
// are not followed, Retry-After is honoured, 410 ends it.
//
// A Sender may be used from any goroutine.
package webhook
