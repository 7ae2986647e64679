// Package nearest finds the known word that a mistyped one is likely to mean:
// a key or a name of the configuration, or the name that a sensor unit was
// given.
//
//	timezone ─▶ time_zone    NIOSH ─▶ us-niosh    n-O7 ─▶ n-07
//
// Rather none than a wrong one: where several are as likely, some of its rules
// give none.
package nearest
