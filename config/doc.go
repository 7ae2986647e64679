// Package config turns the YAML configuration file into checked domain
// values, or into every complaint about it at once.
//
//	bytes ─yaml.v3─▶ node tree ─reader─▶ *Config          (good)
//	                               └───▶ *Errors          (each file:line:col: path: message; allowed: …)
//
// The reader walks the node tree itself instead of decoding into structs, so
// that an unknown key, a key written twice, a wrong type and a value out of
// range are all found in one pass and each is reported where it stands. A key
// exists because the reader asks for it; reference.yaml documents every one,
// and a test proves that the two lists are the same.
//
// What is doubtful but lawful (a limit weaker than any published one, a plate
// rate that does not fit the input) is a warning in Config.Warnings. Secrets
// come from files that only their owner can read. A secret file that is not
// there does not make the configuration wrong, because replay and decode
// need none: Config.Ready reports it to whoever does.
//
// Parse touches no file unless Options.Open is given, reads no clock and
// never panics, whatever the bytes. Values are safe for concurrent reading.
//
// The YAML library is imported here and nowhere else.
package config
