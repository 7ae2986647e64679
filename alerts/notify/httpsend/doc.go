// Package httpsend is how senders use HTTP: a client that follows no
// redirects and waits a bounded time, and what an answer means for trying
// again.
package httpsend
