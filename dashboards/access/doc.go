// Package access says who a visitor of the pages is and what they may do.
//
//	request ─Who─▶ Visitor{Name, Role} ─Role.Covers─▶ handler or refusal
//
// A visitor is known by, in this order: an API token (bearer), a header set by
// a trusted reverse proxy, a signed session cookie. Without any users
// configured everybody on the loopback address is let in with every role, and
// the pages say so.
//
// Sessions are kept in the cookie, not in memory: name, expiry and an
// HMAC-SHA256 over both, whose key depends on the user's password hash, so
// that a changed password ends every session of that user.
//
// All methods may be called from any goroutine.
package access
