package service

// The tasks of fuel and fire, of the sensor, and of the season's end.

func tankFlush() Task {
	return Task{
		ID: "tank-flush", Title: "Drain and flush the tank",
		Triggers: []Trigger{{Kind: Season, Every: 2}, {Kind: HeavyMonth, Every: 2}},
		Parts:    []string{"Clean fuel for flushing", "Drain plug seal"},
		Tools:    []string{"Closed metal can", "Funnel with strainer", "Spanner set", "Oil-absorbing rags"},
		Cautions: append(onFuel(), tankOutdoors),
		Steps: []string{
			"Drain the tank into the can and look at what comes out: water, rust and slime point to bad fuel.",
			"Flush with a little clean fuel until it runs clear; never with water.",
			"Fit the plug with a good seal, fill, and look for drips after ten minutes.",
		},
		Source: NoSource,
	}
}

func pumpFilter() Task {
	return Task{
		ID: "pump-filter", Title: "Clean the output filter of the air pump",
		Triggers: []Trigger{{Kind: Days, Every: 365}},
		Parts:    []string{"Air output filter"},
		Tools:    []string{"Screwdriver set", "Clean cloth"},
		Cautions: onHeat(),
		Steps: []string{
			"Take the filter out and tap it clean on a hard, dry surface.",
			"Use neither blown air nor liquid: both drive the dirt into the felt.",
			"Replace it if tapping no longer brings it clean.",
		},
		Source: NoSource,
	}
}

func fuelFilter() Task {
	return Task{
		ID: "fuel-filter", Title: "Clean or replace the fuel filter",
		Triggers: []Trigger{{Kind: Days, Every: 365}},
		Parts:    []string{"Fuel filter"},
		Tools:    []string{"Dry air at low pressure", "Spanner set", "Closed metal can", "Oil-absorbing rags"},
		Cautions: onFuel(),
		Steps: []string{
			"Close the fuel off and take the filter out over the can.",
			"Blow it through against the flow of the fuel, at low pressure, outdoors.",
			"Replace it if it stays dark or is damaged; mind the arrow of flow.",
			"Look for drips at both ends after ten minutes with fuel on.",
		},
		Source: NoSource,
	}
}

func fuelLines() Task {
	return Task{
		ID: "fuel-lines", Title: "Check the fuel lines",
		Triggers: []Trigger{{Kind: Days, Every: 365}},
		Parts:    []string{"Fuel hose and clips"},
		Tools:    []string{"Torch", "Spanner set", "Closed metal can", "Oil-absorbing rags"},
		Cautions: onFuel(),
		Steps: []string{
			"Follow every line from tank to nozzle; feel for hard, cracked, swollen or kinked places.",
			"Tighten or replace clips; replace any doubtful hose.",
			"A line that leaks is a reason to leave the heater off and tag it.",
		},
		Source: NoSource,
	}
}

func nozzle() Task {
	return Task{
		ID: "nozzle", Title: "Clean or replace the nozzle",
		Triggers: []Trigger{{Kind: Condition}},
		Parts:    []string{"Nozzle of the size on the plate"},
		Tools:    []string{"Nozzle spanner", "Dry air at low pressure"},
		Cautions: onBurner(),
		Steps: []string{
			"Done when the flame is uneven, smoky, smells or lights late.",
			"Replace by the size and angle on the plate; never drill or poke the bore.",
			"Afterwards look at the flame and measure CO in fresh air.",
		},
		Source: NoSource,
	}
}

func pumpPressure() Task {
	return Task{
		ID: "pump-pressure", Title: "Set the pump pressure",
		Triggers: []Trigger{{Kind: Condition}},
		Tools:    []string{"Pressure gauge for the pump", "Screwdriver set", "CO meter in date"},
		Cautions: append(onBurner(), fanGuard),
		Steps: []string{
			"Done when the flame is too short, too long or smoky, and after work on pump or nozzle.",
			"Set the pressure of the heater's own manual for this size, with the gauge in its port.",
			"Afterwards look at the flame and measure CO in fresh air.",
		},
		Source: NoSource,
	}
}

func pumpRotor() Task {
	return Task{
		ID: "pump-rotor", Title: "Check the pump's rotor and vanes",
		Triggers: []Trigger{{Kind: Condition}},
		Parts:    []string{"Rotor and vane set"},
		Tools:    []string{"Feeler gauges", "Spanner set", "Clean cloth"},
		Cautions: append(onHeat(), fanGuard),
		Steps: []string{
			"Done when the pressure cannot be reached or the pump is noisy or stiff.",
			"Look for worn, chipped or stuck vanes and a scored rotor.",
			"Set the clearance given in the heater's own manual, at the place it names; no other figure will do.",
			"Check the pump pressure afterwards.",
		},
		Source: NoSource,
	}
}

func sensorCheck() Task {
	return Task{
		ID: "co-sensor-check", Title: "Verify the sensor unit's CO sensor",
		Triggers: []Trigger{{Kind: Days, Every: 180}, {Kind: SensorDate}},
		Parts:    []string{"CO test gas of known concentration, in date"},
		Tools:    []string{"Regulator and test cap for the sensor unit", "CO meter in date"},
		Cautions: []string{
			siteFirst, freshAir,
			"Release test gas only outdoors or in moving air, and close the bottle between tests.",
			"While the sensor is away or in doubt nobody is warned by it: use another CO alarm or leave the heater off.",
		},
		Steps: []string{
			"Let the sensor unit warm up in clean air and note its zero.",
			"Apply the known concentration as its manual says and compare the reading with the bottle, within the manual's tolerance.",
			"If it does not agree, calibrate it by its manual and verify again.",
			"If it still does not agree, take it out of service and tag it.",
		},
		Source: "Steps: OSHA safety and health information bulletin on direct-reading portable gas monitors (November 2024): " +
			"verify with a known concentration, failing that calibrate, failing that out of service. Interval: " + NoSource,
	}
}

func putAway() Task {
	return Task{
		ID: "put-away", Title: "Put away at the season's end",
		Triggers: []Trigger{{Kind: SeasonEnd}},
		Parts:    []string{"Clean fuel for flushing", "Fresh fuel to fill the tank", "Dry cover"},
		Tools:    []string{"Soft brush", "Closed metal can", "Funnel with strainer", "Oil-absorbing rags"},
		Cautions: append(onFuel(), tankOutdoors, "Store where the local code allows a full tank: dry, aired and away from flame and heat."),
		Steps: []string{
			"Clean the heater inside and out and do whatever else is due.",
			"Drain and flush the tank.",
			"Fill it full with fresh fuel, so that no damp air stands on bare steel.",
			"Store it dry, level and covered, with the supply lead coiled and a tag saying what is still to do.",
		},
		Source: NoSource,
	}
}
