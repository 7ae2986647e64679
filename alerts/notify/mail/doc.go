// Package mail sends messages as e-mail.
//
//	notify.Message ─▶ text and HTML, one thread an alarm ─▶ SMTP over TLS ─▶ accepted, or why not
//
// The connection is encrypted unless the configuration says outright that it
// is not. Message-ID follows from the message's id, so that a repetition is
// told by it; In-Reply-To and References keep what is about one alarm
// together; Auto-Submitted (RFC 3834) keeps absence notes from answering.
//
// That a server took a message does not mean that somebody read it: that is
// what acknowledging is for.
//
// A Sender may be used from any goroutine; each message has its own
// connection.
package mail
