// Package capture reads and writes capture files: JSON Lines of what the
// subscriptions delivered and what people did, in the order of arrival.
//
//	{"at":"2026-01-12T06:00:00Z","topic":"sites/quay/nodes/n-07/telemetry","payload":"[…]"}
//	{"at":"2026-01-12T07:30:00Z","entry":{"heater":"H-07","task":"refuel","by":"…"}}
//	{"at":"2026-01-12T07:40:00Z","withdraw":{"heater":"H-07","task":"refuel","at":"2026-01-12T07:30:00Z","by":"…","why":"the heater beside it"}}
//	{"at":"2026-01-12T08:00:00Z","planned_stop":{"heater":"H-07","for":"2h"}}
//	{"at":"2026-01-16T11:00:00Z","planned_stop":{"heater":"H-07","from":"2026-01-16T17:00:00Z","for":"60h"}}
//	{"at":"2026-01-18T09:00:00Z","planned_stop":{"heater":"H-07","end":true}}
//	{"at":"2026-01-12T08:05:00Z","answer":{"act":"acknowledge","alarm":"…","by":"…"}}
//
// A planned stop begins when it is written down, or from the instant it gives,
// which may lie a week back or a month ahead; end takes back what runs or was
// to come.
//
// A withdrawal names the entry that was wrong by its heater, its task and the
// at of its line; of several alike it is the last that still stands.
//
// A line has exactly one kind. Unknown keys are passed over, so that an older
// daemon reads a newer file. Lines come out in file order even where arrival
// times go backwards, as they do when the recorder's clock was set back;
// whoever replays decides what that means.
//
// A Reader or Writer belongs to one goroutine.
package capture
