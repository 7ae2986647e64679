package service

import (
	"slices"
	"strings"
)

// LookOverTask is the task that the list is gone through for.
const LookOverTask = "look-over"

// KeepsOff reports whether something that failed, by the ids of the list with
// commas between, keeps the heater off: then it was not looked over as far as
// its use goes.
func KeepsOff(failed string) bool {
	ids := Failed(failed)
	return slices.ContainsFunc(LookOver(), func(c Check) bool {
		return c.Dangerous && slices.Contains(ids, c.ID)
	})
}

// Failed gives the ids of what failed, from a text with commas between them
// and spaces or none.
func Failed(text string) []string {
	ids := strings.Split(text, ",")
	for i, id := range ids {
		ids[i] = strings.TrimSpace(id)
	}
	return ids
}

// Check is one item of a list to be gone through at the heater.
type Check struct {
	ID        string
	Text      string
	Dangerous bool   // failed: the heater stays off and is tagged
	IfFailed  string // what it can lead to and what to do
}

// LookOver is the list to go through before every use, people first (common
// practice, no source; the site's procedure and the heater's manual go
// before it).
func LookOver() []Check {
	return []Check{
		{"procedure", "The site's procedure for heaters is known and followed here.", true,
			"Ask the site before anything else; the heater stays off."},
		{"fresh-air", "The space has the openings to fresh air that the heater's plate and the site ask for.", true,
			"CO can rise and oxygen fall. People out, open up, then see to the heater; it stays off."},
		{"co-node", "The node is on, in its place and its CO reading in clean air is near zero.", true,
			"Nobody would be warned. Use another CO alarm or leave the heater off."},
		{"clearances", "Nothing that burns stands within the clearances on the heater's plate; the heater stands level and firm.", true,
			"Fire. The heater stays off until there is room."},
		{"leaks", "Tank, cap, hoses and joints are dry; no smell of fuel.", true,
			"Fire. No flame or switch near it; the heater stays off and is tagged."},
		{"supply", "Plug, lead and earth are whole, dry and out of the way of feet and wheels.", true,
			"Shock or fire. Isolate the supply first; the heater stays off."},
		{"damage", "No dents, cracks, burnt spots or missing guards; the fan turns free.", true,
			"Hot gas, CO or injury by the fan. The heater stays off and is tagged."},
		{"fastenings", "Every screw, clip, cover, handle and wheel is in place and tight.", true,
			"Parts can come loose when hot or in the fan. Fasten them before the start."},
		{"intake-filter", "The air intake filter is in place, clean and dry.", true,
			"A choked burner makes CO and soot. Clean or replace it before the start."},
		{"other-filters", "The output filter and the fuel filter are in place and clean.", false,
			"A poor flame and stops. Plan the cleaning; do not run without a filter."},
		{"controls", "Thermostat, switch and hour meter work; nothing is bridged.", true,
			"A control that is defeated cannot stop the fuel. The heater stays off and is tagged."},
		{"fuel", "The tank holds the right, clean fuel and enough of it.", false,
			"Wrong fuel is a fire risk: drain it. Too little: fill with the heater off and cold."},
	}
}
