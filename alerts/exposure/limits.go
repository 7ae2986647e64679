package exposure

// Limits are a site's figures for CO in air, in ppm by volume. A zero figure
// means that the set has no such limit.
type Limits struct {
	Name         string  // name of the set, "own" for a table of the site's own figures
	CeilingPPM   float64 // not to be exceeded at any time
	ShortTermPPM float64 // 15-minute time-weighted average
	ShiftPPM     float64 // 8-hour time-weighted average
	DosePercent  float64 // carboxyhaemoglobin estimate at which co-dose is raised, % of haemoglobin
	Source       string  // the document the figures come from
}

// Activity is whose breathing the dose estimate assumes.
type Activity string

// The activities, with the ventilation and diffusion figures of the
// Coburn-Forster-Kane parameter sets.
const (
	Rest  Activity = "rest"
	Light Activity = "light"
	Heavy Activity = "heavy"
)
