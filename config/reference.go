package config

import _ "embed"

// Reference is a configuration that documents every key: unit, default and
// what is allowed. Lines that begin with #| show the other way to write what
// stands above them.
//
//go:embed reference.yaml
var Reference string
