package service

// Default gives the usual tasks of the trade for an oil-fired forced-air
// heater. The intervals are starting points: the site's procedure and the
// heater's own manual go before them.
//
// The look-over has no daily trigger although it belongs before every use:
// a reminder a day for every heater would teach people to pass reminders by.
// It falls due at each deployment, and its list (LookOver) is there to be
// filled in on any day.
func Default() Plan {
	return Plan{Name: "default", Tasks: []Task{
		lookOver(), intakeFilter(), service500(), dustOut(), photocell(), tankFlush(), pumpFilter(),
		fuelFilter(), fuelLines(), nozzle(), pumpPressure(), pumpRotor(), sensorCheck(), putAway(),
	}}
}

// Cautions that several tasks share, in the order in which they matter.
const (
	siteFirst    = "The site's procedure comes first; nobody works on a heater in a space whose air is in doubt."
	freshAir     = "Open the space to fresh air before any burner test and keep it open; low CO does not prove safe air, oxygen may still be low."
	coolDown     = "Let the heater finish its own cool-down and grow cold to the touch."
	isolate      = "Switch off, pull the supply plug and keep it in sight so that nobody can plug it in again."
	noFlame      = "No flame, spark or smoking near fuel; wipe spills up at once and take the rags out of the space."
	fuelWaste    = "Catch old fuel in a closed metal can and dispose of it by the local code."
	eyesGloves   = "Wear eye protection and fuel-proof gloves."
	licensed     = "Where the local code asks for a licensed person for fuel or electrical work, only that person does it."
	ownManual    = "Figures and order of work are those of the heater's own manual."
	neverBypass  = "Never bridge or defeat the flame control or a limit switch; a lockout is that control doing its work."
	dustMask     = "Wear a dust mask; blow outwards and away from people, in the open."
	fanGuard     = "Keep hands clear of the fan; refit every guard before the supply is plugged in."
	tankOutdoors = "Empty and fill the tank outdoors or where the site allows fuel to be handled, never near a lit heater."
)

func onHeat() []string { return []string{siteFirst, coolDown, isolate, licensed, ownManual} }

func onFuel() []string {
	return []string{siteFirst, freshAir, coolDown, isolate, noFlame, fuelWaste, eyesGloves, licensed, ownManual}
}

func onBurner() []string {
	return []string{siteFirst, freshAir, coolDown, isolate, noFlame, neverBypass, eyesGloves, licensed, ownManual}
}

func lookOver() Task {
	return Task{
		ID: LookOverTask, Title: "Look over before use",
		Triggers: []Trigger{{Kind: Deployment}},
		Tools:    []string{"Torch", "Screwdriver set"},
		Cautions: []string{siteFirst, freshAir, coolDown, isolate, noFlame, ownManual},
		Steps: []string{
			"Go through the look-over list, item by item, before the first start at this place.",
			"Anything that fails and is marked dangerous: leave the heater off and tag it until it is put right.",
			"Log the look-over with what was found.",
		},
		Source: NoSource,
	}
}

func intakeFilter() Task {
	return Task{
		ID: "intake-filter", Title: "Wash the air intake filter",
		Triggers: []Trigger{
			{Kind: BurnerHours, Every: 50, DustyOnly: true},
			{Kind: BurnerHours, Every: 500, CleanOnly: true},
		},
		Parts:    []string{"Air intake filter (spare)"},
		Tools:    []string{"Bucket", "Mild detergent", "Clean cloth"},
		Cautions: onHeat(),
		Steps: []string{
			"Take the filter out and look for tears; a torn one is replaced.",
			"Wash it in warm water with a mild detergent and rinse it.",
			"Dry it right through. A damp filter chokes the burner of air and makes CO.",
			"Refit it dry, the way round it came out, and close the cover.",
		},
		Source: NoSource,
	}
}

func service500() Task {
	return Task{
		ID: "service-500h", Title: "500-hour service",
		Triggers: []Trigger{{Kind: BurnerHours, Every: 500}},
		Parts:    []string{"Air intake filter (spare)", "Air output filter", "Fuel filter", "Nozzle of the size on the plate"},
		Tools:    []string{"Spanner set", "Screwdriver set", "Feeler gauges", "Pressure gauge for the pump", "Soft brush", "CO meter in date"},
		Cautions: onBurner(),
		Steps: []string{
			"Read the hour meter and note it.",
			"Clean intake filter, output filter and fuel filter; replace what is worn.",
			"Clean the fan, the burner head and the combustion chamber; look for cracks and burnt spots.",
			"Check electrode gap and cable against the heater's manual.",
			"Wipe the photocell window.",
			"Check hoses, wiring, plug, earth and every fastening.",
			"Start outdoors or in a well aired place; check flame, pump pressure and that the flame control stops the fuel when the photocell is covered as its manual describes.",
			"Measure CO in the air stream after ten minutes; leave the heater off and tag it if the manual's figure is passed.",
		},
		Source: NoSource,
	}
}

func dustOut() Task {
	return Task{
		ID: "dust-out", Title: "Clear dust from motor, fan, burner and transformer",
		Triggers: []Trigger{{Kind: Season, Every: 2, CleanOnly: true}, {Kind: Season, Every: 4, DustyOnly: true}},
		Tools:    []string{"Soft brush", "Vacuum cleaner or dry air at low pressure", "Screwdriver set", "Dust mask"},
		Cautions: append(onHeat(), dustMask, fanGuard),
		Steps: []string{
			"Open the housing and brush the fan blades, front and back.",
			"Clear the motor's air slots, the burner head and the transformer of dust and lint.",
			"Turn the fan by hand: it must run free and not wobble.",
			"Close the housing with every screw and guard in place.",
		},
		Source: NoSource,
	}
}

func photocell() Task {
	return Task{
		ID: "photocell", Title: "Wipe the photocell window",
		Triggers: []Trigger{{Kind: Season, Every: 2, CleanOnly: true}, {Kind: Season, Every: 4, DustyOnly: true}},
		Tools:    []string{"Cotton swabs", "Clean cloth"},
		Cautions: append(onHeat(), neverBypass),
		Steps: []string{
			"Take the photocell out without pulling on its wires.",
			"Wipe the window with a dry swab; no solvent.",
			"Refit it straight and fully home. A dirty or crooked one stops a good flame.",
		},
		Source: NoSource,
	}
}
