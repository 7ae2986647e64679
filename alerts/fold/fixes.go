package fold

// fixes counts what was found wrong at the visits of one heater, by check.
type fixes map[string]int
