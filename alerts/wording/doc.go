// Package wording is every text that reaches a person about an alarm, in one
// place: one sentence for lists, one short message for a phone, one full
// letter for mail, as text and as HTML.
//
//	alarm.Alarm + fleet.Site ─Of─▶ Facts ─▶ Line, Short, Full, HTML
//
// A language is a table (english.go); Lookup finds it. Whoever reads was
// woken by it: what, where, since when in the site's own time, how sure, and
// what to do, in that order. Where the air people breathe is concerned the
// order of what to do is fixed: the site's procedure, people out and fresh
// air, whom to call, and only then the heater; such texts say that the
// readings are area readings and that low CO does not prove safe air.
//
// Names come from configuration and messages: control characters are taken
// out before they get anywhere near a header, and long ones are cut so that
// a line stays within maxLine and a short message within MaxShort.
//
// The package is pure.
package wording
