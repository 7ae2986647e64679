// Package answerlink makes and opens the token in the link of a message by
// which somebody acknowledges an alarm without signing in.
//
//	Sign(secret, alarm, person, expires) ─▶ "…" in https://…/a/{token} ─▶ Open
//
// A token names one alarm and one person until an instant, and is signed with
// HMAC-SHA256 (RFC 2104, FIPS 198-1). Whoever holds it can acknowledge that
// alarm in that person's name and nothing else; it is not a session. Opening
// must not acknowledge by itself: mail scanners follow links, so the page
// behind it asks with a button.
//
// The package is pure: the caller says what time it is.
package answerlink
