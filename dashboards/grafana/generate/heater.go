package main

// around picks what is measured in the space of the chosen heater.
const around = ` and on (site, space) heaterd_node_last_reading_timestamp_seconds{heater="$heater"}`

// heater is one heater and the air around it.
var heater = board{
	name: "heater.json", uid: "heaterd-heater", title: "heaterd: heater", from: "now-24h",
	about: "One heater: flame, fuel, service, and the air of the space it stands in. heaterd never commands a heater.",
	choices: []choice{
		{"site", "Site", "label_values(heaterd_node_last_reading_timestamp_seconds, site)", false},
		{"heater", "Heater", `label_values(heaterd_node_last_reading_timestamp_seconds{site="$site"}, heater)`, false},
	},
	rows: []row{
		{"Now", []panel{
			{title: "Flame", about: "Whether the flame is seen. No data: the node is silent, and nobody can tell.", kind: number, unit: unitNone, w: 4, h: 4,
				queries: single(`heaterd_flame_lit{heater="$heater"}`), words: map[string]string{"0": "out", "1": "lit"}},
			{title: "Last word", about: "When the node's last telemetry arrived.", kind: number, unit: unitAgo, w: 5, h: 4,
				queries: single(`heaterd_node_last_reading_timestamp_seconds{heater="$heater"} * 1000`)},
			{title: "Tank", about: "Fuel level, by reading or estimate.", kind: number, unit: unitRatio, w: 4, h: 4, min: zero, max: one,
				queries: single(`heaterd_fuel_ratio{heater="$heater"}`), steps: []step{{0, act}, {0.15, look}, {0.3, good}}},
			{title: "Burner time", about: "Burner run time since heaterd watches the heater, best estimate.", kind: number, unit: unitSpan, w: 5, h: 4,
				queries: single(`heaterd_burner_runtime_seconds_total{heater="$heater"}`)},
			{title: "Least service time left", about: "Burner time left of the task that is due first by hours; below zero it is past due.", kind: number, unit: unitSpan, w: 6, h: 4,
				queries: single(`min(heaterd_service_remaining_burner_seconds{heater="$heater"})`), steps: []step{{0, act}, {0, look}, {36000, good}}},
		}},
		{"Flame", []panel{
			{title: "Lit and out", about: "The flame over time. A gap is a silent node: nobody knows what the flame did.", kind: states, unit: unitNone, w: 24, h: 5,
				queries: []query{q(`heaterd_flame_lit{heater="$heater"}`, "{{heater}}")}, steps: []step{{0, "blue"}, {1, look}},
				words: map[string]string{"0": "out", "1": "lit"}},
			{title: "Share of time lit", about: "Share of time the burner was lit, by its run time.", unit: unitRatio, w: 12, h: 8, min: zero, max: one,
				queries: []query{q(`rate(heaterd_burner_runtime_seconds_total{heater="$heater"}[$__rate_interval])`, "{{heater}}")}},
			{title: "Burns in a day, by ending", about: "Burns of the last 24 hours by why they ended. Satisfied and planned are ordinary; unexplained ones want a visit.", kind: stacks, unit: unitNone, w: 12, h: 8, min: zero,
				queries: []query{q(`sum by (ending) (increase(heaterd_burns_total{heater="$heater"}[1d]))`, "{{ending}}")}},
		}},
		{"Service", []panel{
			{title: "Burner time left, by task", about: "By the hours of each task; below zero it is past due.", kind: bars, unit: unitSpan, w: 12, h: 10,
				queries: []query{q(`sort(heaterd_service_remaining_burner_seconds{heater="$heater"})`, "{{task}}")}, steps: []step{{0, act}, {0, look}, {36000, good}}},
			{title: "Expected day, by task", about: "Time until the day on which each task is expected to be due, by hours or calendar; below zero it is past due.", kind: bars, unit: unitSpan, w: 12, h: 10,
				queries: []query{q(`sort(heaterd_service_due_timestamp_seconds{heater="$heater"} - time())`, "{{task}}")}, steps: []step{{0, act}, {0, look}, {604800, good}}},
			{title: "Fuel", about: "Tank level, by reading or estimate.", unit: unitRatio, w: 24, h: 7, min: zero, max: one,
				queries: []query{q(`heaterd_fuel_ratio{heater="$heater"}`, "{{heater}}")}},
		}},
		{"The space it stands in", []panel{
			{title: "CO", about: "Highest latest reading, the averages of 15 minutes and 8 hours, and the site's limits." + area, unit: unitPPM, w: 12, h: 9, min: zero,
				queries: []query{
					q(`heaterd_space_co_ppm`+around, "now"),
					q(`heaterd_space_co_average_ppm`+around, "{{window}} average"),
					q(`heaterd_space_co_limit_ppm`+around, "{{limit}} limit"),
				}},
			{title: "Temperature", about: "Lowest of the sensors' latest readings in the space.", unit: unitCelsius, w: 12, h: 9,
				queries: []query{q(`heaterd_space_temperature_celsius`+around, "{{space}}")}},
			{title: "Estimated carboxyhaemoglobin", about: "Estimate for a person in the space at the site's activity, as a share of haemoglobin. Nobody's blood was measured." + area, unit: unitRatio, w: 12, h: 8, min: zero,
				queries: []query{q(`heaterd_space_carboxyhaemoglobin_ratio`+around, "{{space}}")}},
			{title: "Air changes per hour", about: "How fast the air of the space is changed, from the fall of CO after the flames went out.", unit: unitNone, w: 12, h: 8, min: zero,
				queries: []query{q(`3600 * heaterd_space_air_changes_per_second`+around, "{{space}}")}},
		}},
	},
}
