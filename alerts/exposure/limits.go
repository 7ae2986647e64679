package exposure

import "slices"

// Limits are a site's figures for CO in air, in ppm by volume. A zero figure
// means that the set has no such limit. A set without a ceiling still has a
// dose watch, which is what catches a short high exposure there.
type Limits struct {
	Name         string  // name of the set, "own" for a table of the site's own figures
	CeilingPPM   float64 // not to be exceeded at any time
	ShortTermPPM float64 // 15-minute time-weighted average
	ShiftPPM     float64 // 8-hour time-weighted average
	DosePercent  float64 // carboxyhaemoglobin estimate at which co-dose is raised, % of haemoglobin
	Source       string  // the document the figures come from
	Verified     string  // how the figures were verified
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

// DefaultDosePercent is the carboxyhaemoglobin, in % of haemoglobin, at which
// co-dose is raised where a site gives no figure of its own. 10 % is about
// the basis of the response times of UL 2034 (70 ppm by 240 min, 150 ppm by
// 50 min, 400 ppm by 15 min; read in a secondary text). No occupational
// standard sets it: it is an action figure, not a limit.
const DefaultDosePercent = 10

// How the figures of a named set were verified.
const (
	readInDocument  = "read in the document or a legal reprint of it"
	readInSecondary = "read in a secondary text that quotes it"
)

// named are the sets a site can ask for by name. The immediately dangerous
// concentration that several lists give is in none of them: it is a figure
// for leaving at once, not one to work under.
var named = [...]Limits{
	{
		Name: "us-osha", ShiftPPM: 50, DosePercent: DefaultDosePercent,
		Source:   "29 CFR 1910.1000 Table Z-1; 29 CFR 1926.55 App. A (no ceiling for CO)",
		Verified: readInDocument,
	},
	{
		Name: "us-niosh", ShiftPPM: 35, CeilingPPM: 200, DosePercent: DefaultDosePercent,
		Source:   "NIOSH Pocket Guide (35 ppm up to 10 h, ceiling 200 ppm); 1972 criteria document",
		Verified: readInDocument,
	},
	{
		Name: "us-calosha", ShiftPPM: 25, CeilingPPM: 200, DosePercent: DefaultDosePercent,
		Source:   "8 CCR 5155 Table AC-1",
		Verified: readInDocument,
	},
	{
		Name: "uk-eh40", ShiftPPM: 20, ShortTermPPM: 100, DosePercent: DefaultDosePercent,
		Source:   "EH40/2005 Table 1 (8 h and 15 min)",
		Verified: readInSecondary,
	},
	{
		Name: "eu-2017-164", ShiftPPM: 20, ShortTermPPM: 100, DosePercent: DefaultDosePercent,
		Source:   "Directive (EU) 2017/164, now in Directive (EU) 2022/431 (8 h and 15 min)",
		Verified: readInSecondary + "; the later directive " + readInDocument,
	},
}

// Named gives the set of limits of that name; false where there is none.
func Named(name string) (Limits, bool) {
	i := slices.IndexFunc(named[:], func(l Limits) bool { return l.Name == name })
	if i < 0 {
		return Limits{}, false
	}
	return named[i], true
}

// Names lists the named sets in a fixed order.
func Names() []string {
	names := make([]string, len(named))
	for i, l := range named {
		names[i] = l.Name
	}
	return names
}
