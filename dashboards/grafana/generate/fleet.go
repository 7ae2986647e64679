package main

// fleet is every site at a glance.
var fleet = board{
	name: "fleet.json", uid: "heaterd-fleet", title: "heaterd: fleet", from: "now-12h",
	about: "Every site at a glance. heaterd's own alarms tell people; this is for looking back and around. " +
		"Where air is in doubt the site's procedure comes first.",
	choices: []choice{{"site", "Site", "label_values(heaterd_node_last_reading_timestamp_seconds, site)", true}},
	rows: []row{
		{"Now", []panel{
			{title: "Alarms nobody has taken", about: "Alarms that are not acknowledged, of every site and priority.", kind: number, unit: unitNone, w: 4, h: 4,
				queries: single(`sum(heaterd_alarms{state="unacknowledged"})`), steps: fromOne(act)},
			{title: "Highest share of the 8 h limit", about: "The space closest to its 8-hour limit for CO, 100 % is at the limit." + area, kind: number, unit: unitRatio, w: 4, h: 4,
				queries: single(`max(site_space:heaterd_space_co_shift_limit:ratio{site=~"$site"})`), steps: []step{{0, good}, {0.5, look}, {1, act}}},
			{title: "Heaters lit", about: "Heaters whose flame is seen. Silent ones are not counted.", kind: number, unit: unitNone, w: 4, h: 4,
				queries: single(`sum(heaterd_flame_lit{site=~"$site"})`)},
			{title: "Heaters heard", about: "Heaters whose node is not silent.", kind: number, unit: unitNone, w: 4, h: 4,
				queries: single(`count(heaterd_flame_lit{site=~"$site"})`)},
			{title: "Nodes without a word for 15 min", about: "Nodes whose last telemetry arrived more than 15 minutes ago. What they would say is not known.", kind: number, unit: unitNone, w: 4, h: 4,
				queries: single(`count(time() - heaterd_node_last_reading_timestamp_seconds{site=~"$site"} > 900) or vector(0)`), steps: fromOne(look)},
			{title: "Service past due", about: "Tasks past their hours or their day.", kind: number, unit: unitNone, w: 4, h: 4,
				queries: single(`sum(site_task:heaterd_service_past_due:count{site=~"$site"}) or vector(0)`), steps: fromOne(look)},
		}},
		{"Air", []panel{
			{title: "CO by space", about: "Highest of the sensors' latest readings in each space." + area, unit: unitPPM, w: 12, h: 8, min: zero,
				queries: []query{q(`max by (site, space) (heaterd_space_co_ppm{site=~"$site"})`, "{{site}} {{space}}")}},
			{title: "CO, 8 h average and limit", about: "Time-weighted average of the last 8 hours, and the site's limit for it. Missing readings count at the worse end." + area, unit: unitPPM, w: 12, h: 8, min: zero,
				queries: []query{
					q(`max by (site, space) (heaterd_space_co_average_ppm{site=~"$site", window="8h"})`, "{{site}} {{space}}"),
					q(`max by (site) (heaterd_space_co_limit_ppm{site=~"$site", limit="shift"})`, "{{site}} limit"),
				}},
			{title: "CO, 15 min average", about: "Time-weighted average of the last 15 minutes." + area, unit: unitPPM, w: 12, h: 8, min: zero,
				queries: []query{q(`max by (site, space) (heaterd_space_co_average_ppm{site=~"$site", window="15m"})`, "{{site}} {{space}}")}},
			{title: "Estimated carboxyhaemoglobin", about: "Estimate for a person in the space at the site's activity, as a share of haemoglobin, and the figure at which heaterd raises an alarm. Nobody's blood was measured." + area, unit: unitRatio, w: 12, h: 8, min: zero,
				queries: []query{
					q(`max by (site, space) (heaterd_space_carboxyhaemoglobin_ratio{site=~"$site"})`, "{{site}} {{space}}"),
					q(`max by (site) (heaterd_space_carboxyhaemoglobin_limit_ratio{site=~"$site"})`, "{{site}} action"),
				}},
			{title: "Temperature by space", about: "Lowest of the sensors' latest readings in each space.", unit: unitCelsius, w: 12, h: 8,
				queries: []query{q(`min by (site, space) (heaterd_space_temperature_celsius{site=~"$site"})`, "{{site}} {{space}}")}},
			{title: "How much of CO was measured", about: "Share of the last 8 hours that readings cover. What was not measured counts at the worse end in the averages.", unit: unitRatio, w: 12, h: 8, min: zero, max: one,
				queries: []query{q(`min by (site, space) (heaterd_space_co_coverage_ratio{site=~"$site", window="8h"})`, "{{site}} {{space}}")}},
		}},
		{"Heaters", []panel{
			{title: "Share of time lit", about: "Share of the last hour in which the burners of a site were lit, on average.", unit: unitRatio, w: 12, h: 8, min: zero, max: one,
				queries: []query{q(`site:heaterd_burner_runtime_seconds:avg_rate1h{site=~"$site"}`, "{{site}}")}},
			{title: "Burns in a day, by ending", about: "Burns of the last 24 hours by why they ended. Satisfied and planned are ordinary; unexplained ones want a visit.", kind: stacks, unit: unitNone, w: 12, h: 8, min: zero,
				queries: []query{q(`sum by (ending) (site_ending:heaterd_burns:increase1d{site=~"$site"})`, "{{ending}}")}},
			{title: "Lowest tanks", about: "The ten heaters with the least fuel, by reading or estimate.", kind: bars, unit: unitRatio, w: 12, h: 10, min: zero, max: one,
				queries: []query{q(`bottomk(10, heaterd_fuel_ratio{site=~"$site"})`, "{{heater}}")}, steps: []step{{0, act}, {0.15, look}, {0.3, good}}},
			{title: "Next service", about: "The ten tasks with the least burner time left; below zero it is past due.", kind: bars, unit: unitSpan, w: 12, h: 10,
				queries: []query{q(`bottomk(10, heaterd_service_remaining_burner_seconds{site=~"$site"})`, "{{heater}} {{task}}")}, steps: []step{{0, act}, {0, look}, {36000, good}}},
			{title: "Alarms by kind", about: "Alarms that are not normal, of every site, by what they are about.", kind: stacks, unit: unitNone, w: 24, h: 8, min: zero,
				queries: []query{q(`sum by (kind) (heaterd_alarms)`, "{{kind}}")}},
		}},
	},
}
