// Package text sends short messages through an HTTP gateway.
//
//	notify.Message ─template─▶ body ─▶ POST with the configured header ─▶ 2xx, or why not
//
// Gateways differ in what they want, so the body is a text/template over
// notify.Message: {{.Short}}, {{.Address}}, {{.Link}} and so on. The function
// json writes a value as JSON, quotes included; form escapes one for a form:
//
//	{"to": {{json .Address}}, "text": {{json .Short}}}
//	to={{form .Address}}&text={{form .Short}}
//
// The message's id goes along as Idempotency-Key, for gateways that know it.
//
// A Sender may be used from any goroutine.
package text
