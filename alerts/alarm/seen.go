package alarm

import "heaterd/ingest/reading"

// How is how a heater stands, as far as its unit and people tell.
type How string

// The ways a heater may stand.
const (
	Lit      How = "lit"
	Unlit    How = "out"
	Planned  How = "planned"   // out, while a planned stop runs
	Silent   How = "silent"    // nothing is known of it: its unit is not heard
	Unseen   How = "unseen"    // nothing is known of it: no unit tells its flame
	TakenOut How = "taken-out" // a person took it out of service
)

// Seen is a heater to look at, with how it stood when the condition was found.
type Seen struct {
	Heater string          `json:"heater"`
	Space  string          `json:"space,omitempty"` // id
	How    How             `json:"how"`
	Since  reading.Instant `json:"since,omitzero"` // 0: not known
}
