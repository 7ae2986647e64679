package wording

import "heaterd/alerts/alarm"

// People first, and before any figure, in every short text about air: the
// site's procedure, people out, then the heater.
const (
	doShort = "1 Site procedure. 2 People out, fresh air. 3 Then the heater. "
	doLine  = "Site's procedure first, people out and fresh air; then the heater. "
	doTold  = " People out and fresh air; then the heater. "
)

var heaterAfter = []string{
	"Only when everyone is out and the site's procedure allows it: have the heating[ ({heaters})] switched off by someone who can do so without breathing the air, or leave it to the emergency services.",
	"Nobody relights a heater there before the site has cleared the space and the cause is found.",
}

var airChecks = []string{
	"Intake and outlet of the heater free; nothing drawn into the air intake.",
	"Openings of the space as the heater's plate and the site's competent person want them.",
	"Other sources: engines, generators, saws, other heaters, vehicles at the door.",
	"Flame: colour, smoke, smell of unburnt fuel; nozzle and pump pressure by the service book.",
}

// burnerBag is what the usual causes of a stop want, and what a person needs to
// go in.
var burnerBag = []string{"CO meter in date, torch, the heater's manual.", "Fuel filter, nozzle of the size on the plate, pressure gauge for the pump, spanners, screwdrivers, clean cloth."}

// sensorBag is what tells whether a CO sensor is right.
var sensorBag = []string{"CO meter in date, gas of a known concentration with its cap, a spare unit."}

var serviceBag = []string{"What the page Service lists for the visit: parts and tools."}

// closed asks for what keeps the heat in, and not for what lets it run safely.
const closed = "Doors and sheeting closed, but for the openings that the heaters' plates and the site's competent person want."

// english is the language file. Advice without a source beside it is common
// practice, no source.
var english = Language{
	Tag:     "en",
	over:    "Ended: {title}[, {where}][, heater {heater}][; began {since}][, ended {ended}][; at worst {worst}].",
	latched: "{title}[, {where}]: below its {bound} again[ ({last} then, {bound} {limit})], which clears nothing: it stays until the site has cleared the space and the safety role resets it[; began {since}][; at worst {worst}].",

	unwatched:  "Not watched any more: {title}[, {where}][, {value} when last known][; began {since}][, until {ended}]. Nothing tells that it is over.",
	unmeasured: "{title}[, {where}]: not watched any more[, {value} when last known, {bound} {limit}], which clears nothing: it stays until the site has cleared the space and the safety role resets it[; began {since}][; at worst {worst}].",
	unendedFor: map[alarm.State]string{
		alarm.Normal:   "Not watched any more, not known to be over: {title}[, {where}][, began {since}].",
		alarm.Returned: "Not watched any more, not known to be over: {title}[, {where}][, began {since}].[ {please}]",
		alarm.Latched:  "{title}[, {where}]: not watched any more, not cleared. Site must clear the space, safety role resets.[ Worst {worst}.]",
	},

	late: "Late record of what was, not of how it is now: ",
	held: map[alarm.State]string{
		alarm.Shelved:      " Shelved[ until {until}][ by {by}][: {why}].",
		alarm.Suppressed:   " Asks for nobody[: {why}].",
		alarm.OutOfService: " Out of service[, by {by}][: {why}].",
	},
	please:  "Please acknowledge.",
	lateTag: "LATE RECORD. ",
	again:   "Told again: {why}.", againTag: "AGAIN. ",
	air: doLine + "A CO alarm stands there ({air}). ", airShort: doShort + "CO alarm stands. ", airTag: "CO ALARM STANDS. ",
	endedTag: "Ended: ", latchedTag: "NOT CLEARED. ",
	shortFor: map[alarm.State]string{
		alarm.Normal:   "Ended: {title}[, {where}][, {heater}][, began {since}][, worst {worst}].",
		alarm.Returned: "Ended: {title}[, {where}][, {heater}][, began {since}][, worst {worst}].[ {please}]",
		alarm.Latched:  "{title}[, {where}]: below its {bound} again, not cleared. Site must clear the space, safety role resets.[ Worst {worst}.]",
	},
	people: []string{
		"Everyone out of {where}, into fresh air. Nobody goes back in to fetch anything.",
		"Open doors and vents if that can be done from outside.",
		"Headache, dizziness, sickness, confusion, or someone down: call the emergency services at once, and do not go in after them without breathing apparatus.",
		"Nobody goes back in until the site says the space is clear.",
	},
	noProc: "The site has put no procedure here. Ask the site's person in charge now, before anything else.",
	noCall: "The site has put no contacts here. Use the numbers posted at the site.",
	know: []string{
		"This is an area reading by an add-on sensor at one spot, not a listed CO alarm and not what any one person breathed; it may be higher elsewhere.",
		"Low CO does not prove safe air: oxygen may be low where fuel burns in a closed space. Measure oxygen before going in.",
	},
	enter:    []string{"Air a closed space before anyone goes in to a heater there. Low CO does not prove safe air."},
	coverage: "readings cover {share} of the last {window}",
	least:    "less than 1 %",
	limit:    "limit", action: "action figure",
	activity: map[string]string{"rest": "at rest", "light": "at light work", "heavy": "at heavy work"},
	heldAir:  "last CO held",
	window:   map[alarm.Kind]string{alarm.COShortTerm: "15 minutes", alarm.COShift: "8 hours", alarm.CODose: "8 hours"},
	ahead:    "{span} ahead", behind: "{span} behind",
	soon: "in {harm}", earliest: "in {harm} at the earliest", within: "within {harm}", now: "now",
	priority: map[alarm.Priority]string{
		alarm.Critical: "CRITICAL", alarm.High: "High", alarm.Medium: "Medium", alarm.Low: "Low",
	},
	takenLine: map[alarm.State]string{
		alarm.Acknowledged: "{who} has acknowledged this and sees to it.",
		alarm.Shelved:      "{who} has shelved this: until then it calls nobody, and if it still holds then it calls again.",
	},
	takenWord: map[alarm.State]string{
		alarm.Acknowledged: "{who} has acknowledged.",
		alarm.Shelved:      "{who} has shelved it[ until {until}].",
	},
	earlierWords: earlierWords{
		reader: "You were told of this at {at}; nobody has acknowledged it since.",
		told:   "{who} was told at {at}", also: ", {who} at {at}",
		unanswered: " and has not answered.", nobody: "; nobody has answered.",
		unreached:   "No message got through to {who}.",
		shortReader: "[You were told {at}, no answer.]", shortUnanswered: "[{who} told {at}, no answer.]", shortUnreached: "[{who} not reached.]",
	},
	seenLine: "{heater}[, {room}]",
	seen: map[alarm.How]string{
		alarm.Lit: ": lit[ since {since}]", alarm.Unlit: ": out[ since {since}]",
		alarm.Planned: ": out[ since {since}], a planned stop runs", alarm.TakenOut: ": out of service",
		alarm.Silent: ": not known, no word from its sensor unit[ since {since}]", alarm.Unseen: ": not known, no sensor unit tells its flame",
	},
	seenWord: map[alarm.How]string{
		alarm.Lit: "lit", alarm.Unlit: "out", alarm.Planned: "out as planned", alarm.TakenOut: "out of service", alarm.Silent: "silent", alarm.Unseen: "not watched",
	},
	seenMany: "{lit} of {all} heaters seen lit.",
	heads: heads{
		procedure: "1. The site's procedure", people: "2. People out, fresh air", call: "3. Call",
		what: "What is known", heater: "4. Then the heater", checks: "First checks, in this order",
		bring: "To bring", enter: "Before going in", know: "Bear in mind", evidence: "Why heaterd says so", heaters: "Heaters concerned",
		link: "See and acknowledge", see: "See the alarm",
		footer: "heaterd watches and tells; it does not control any heater, and the site's procedure comes before anything it says.",
	},
	other: phrases{
		title: "Alarm {kind}",
		line:  "Alarm {kind}, {where}[, heater {heater}][, since {since}][: {value}, limit {limit}][; {sure}].",
		short: "Alarm {kind}, {where}[, heater {heater}][, {value}, limit {limit}][, {since}].",
	},
	kinds: map[alarm.Kind]phrases{
		alarm.COCeiling: {
			title:  "CO at the ceiling",
			line:   doLine + "CO at the ceiling, {where}[: {value}, limit {limit}][, since {since}][; {sure}].",
			short:  doShort + "CO[ {value}, ceiling {limit}], {where}[, {since}].",
			heater: heaterAfter, checks: airChecks,
		},
		alarm.COShortTerm: {
			title: "CO over the short-term limit", brief: "CO 15 min average",
			line:   doLine + "CO over the short-term limit, {where}[: 15-minute average {value}, limit {limit}][, since {since}][; {sure}].",
			short:  doShort + "CO 15 min average[ {value}, limit {limit}][, {held}], {where}[, {since}].",
			heater: heaterAfter, checks: airChecks,
		},
		alarm.COShift: {
			title: "CO over the shift limit", brief: "CO 8 h average",
			line:   doLine + "CO over the shift limit, {where}[: 8-hour average {value}, limit {limit}][, since {since}][; {sure}].",
			short:  doShort + "CO 8 h average[ {value}, limit {limit}][, {held}], {where}[, {since}].",
			heater: heaterAfter, checks: airChecks,
			know: []string{"Whoever worked there today should be told, and told to whom they can turn."},
		},
		alarm.CODose: {
			title: "CO dose estimate over its action figure", brief: "CO dose",
			line:   doLine + "CO dose, {where}[: estimated carboxyhaemoglobin {value}][ {activity}][, action figure {limit}][, since {since}][; {sure}].",
			short:  doShort + "CO dose[ {value}, action figure {limit}][, {held}], {where}[, {since}].",
			heater: heaterAfter, checks: airChecks,
			know: []string{"The dose is an estimate for somebody who stayed there all the time, breathing as the site's activity setting says; it is no measurement of anyone, and no occupational standard sets its action figure."},
		},
		alarm.CORising: {
			title:  "CO rising",
			line:   doLine + "CO rising, {where}[: {value}][, limit {limit} expected {harm}][, {toward} expected {soon}][, over the limit of {passed}][, above {above}][, since {since}][; {sure}].",
			short:  doShort + "CO rising[ {value}][, limit {harm}][, {toward} {soon}][, over limit {passed}][, above {above}], {where}[, {since}].",
			over:   "CO rises no more, {where}, which clears nothing[; began {since}][, ended {ended}][ at {value}][, limit {limit}][; at worst {worst}].",
			heater: heaterAfter, checks: airChecks,
			overShort: "CO rises no more, {where}[: {value}][, limit {limit}]. Clears nothing.[ Worst {worst}.][ {please}]",
		},
		alarm.ShutdownUnexplained: {
			title:  "Heater{s} stopped, no known reason",
			line:   "Heater{s} {heater} stopped, {where}[, {since}], with no reason known[; space too cold {harm}][; {sure}].",
			short:  "Heater{s} {heater} stopped, no known reason, {where}[, {since}][. Too cold {harm}].",
			checks: []string{"Fuel in the tank, valve open, filter clear.", "Mains at the plug; breaker; cord.", "Safety control locked out: find the cause before anyone resets it.", "Flame sensor clean and seated; electrode gap; nozzle."},
			know:   []string{"A lockout is the safety control doing its work. Do not reset it again and again: unburnt fuel collects."},
			bring:  burnerBag,
		},
		alarm.ShutdownsRepeating: {
			title:  "Heater keeps stopping",
			line:   "Heater {heater} keeps stopping, {where}[, {since}][; {sure}].",
			short:  "Heater {heater} keeps stopping, {where}[, {since}].",
			checks: []string{"What the stops have in common: hour, weather, fuel level, other loads on the supply.", "Fuel: water or wax in the filter.", "Flame sensor, electrode, nozzle, in that order."},
			know:   []string{"A lockout is the safety control doing its work. Do not reset it again and again: unburnt fuel collects."},
			bring:  burnerBag,
		},
		alarm.FlameNotHolding: {
			title:  "Flame does not hold",
			line:   "Heater {heater} lights and goes out again, {where}[, since {since}][; {sure}].",
			short:  "Heater {heater} lights and goes out, {where}[, {since}].",
			checks: []string{"Air in the fuel line; filter; water or wax in the fuel.", "Flame sensor dirty or looking past the flame.", "Fan intake blocked; wind on the outlet.", "Nozzle and pump pressure."},
			know:   []string{"Each failed start leaves unburnt fuel and smoke: air the space before the next look."},
			bring:  burnerBag,
		},
		alarm.SpaceCold: {
			title:  "Space too cold",
			line:   "Too cold, {where}[: {value}, to stay above {limit}][, since {since}][; harm {harm}][; {sure}].",
			short:  "Too cold[: {value}, min {limit}], {where}[, {since}][. Harm {harm}].",
			checks: []string{"Heaters of the space lit and blowing.", closed, "Thermostat setting and where its sensor hangs.", "What must not freeze: drain it, cover it or move it."},
		},
		alarm.SpaceCooling: {
			title:     "Space getting cold",
			line:      "Getting cold, {where}[: {value}, to stay above {limit}][; at this course too cold {harm}][; {sure}].",
			short:     "Getting cold[: {value}, min {limit}], {where}[. Too cold {harm}].",
			over:      "Not getting cold any more, {where}[: {value} when last read, to stay above {limit}][; began {since}][, ended {ended}].",
			overShort: "Not getting cold any more, {where}[: {value}, min {limit}].[ {please}]",
			checks: []string{
				"Heaters of the space: which are out, out of service, or set too low.", closed, "Those that are lit: warm air in full, or a weak or smoky flame, a clogged filter, fuel that thickens in the frost.",
				"Is there enough heat for the weather? One more heater, with the openings it wants, or what must not freeze drained, covered or moved in time.",
			},
			know: []string{"The time is reckoned from how the temperature fell; weather, doors and people change it."},
		},
		alarm.SpaceHot: {
			title:  "Space too hot",
			line:   "Too hot, {where}[: {value}, to stay below {limit}][, since {since}][; harm {harm}][; {sure}].",
			short:  "Too hot[: {value}, max {limit}], {where}[, {since}].",
			checks: []string{"Thermostat setting and where its sensor hangs.", "Clearance of the outlet to anything that burns.", "Openings of the space."},
		},
		alarm.ServiceDueSoon: {
			title: "Service due soon",
			line:  "Service due soon, heater {heater}, {where}[: {task}][; {sure}].",
			short: "Service due soon: {heater}[, {task}], {where}.",
			bring: serviceBag,
		},
		alarm.ServiceDue: {
			title: "Service due",
			line:  "Service due, heater {heater}, {where}[: {task}][; {sure}].",
			short: "Service due: {heater}[, {task}], {where}.",
			bring: serviceBag,
		},
		alarm.ServiceOverdue: {
			title: "Service overdue",
			line:  "Service overdue, heater {heater}, {where}[: {task}][, since {since}][; {sure}].",
			short: "Service OVERDUE: {heater}[, {task}], {where}[, {since}].",
			bring: serviceBag,
		},
		alarm.FuelLow: {
			title:  "Fuel low",
			line:   "Fuel low, heater {heater}, {where}[: {value}, limit {limit}][; empty {harm}][, since {since}][; {sure}].",
			short:  "Fuel low: {heater}[ {value}], {where}[. Empty {harm}][: {sure}].",
			checks: []string{"Let the heater stop and cool as its plate says before filling.", "Log the refuel, with litres."},
			know:   []string{"Running dry draws dirt and air into the line: filter and bleeding may follow."},
			bring:  []string{"Fuel as the plate asks for it; winter grade in frost."},
		},
		alarm.NodeSilent: {
			title:  "Sensor unit silent",
			line:   "No word from sensor unit {node}[ on heater {heater}], {where}[, since {since}]; its heater and the air at it go unwatched meanwhile[; {sure}].",
			short:  "No word from unit {node}[ on {heater}], {where}[, {since}]. Heater not watched[; {sure}].",
			checks: []string{"Battery or supply of the unit.", "Radio or network at the spot: what was moved or parked in the way.", "The heater itself: have somebody, with a CO instrument of the site's, look that it runs as it should."},
			know:   []string{"Silence proves nothing: what it would tell of CO, cold and stops goes unseen until it speaks again."},
			bring:  []string{"CO meter in date, a charged battery for the unit, a spare unit."},
		},
		alarm.SiteSilent: {
			title:  "Whole site silent",
			line:   "No word from any sensor unit, {where}[, since {since}]; nothing is measured there meanwhile[; {sure}].",
			short:  "No word from the whole site, {where}[, {since}]. Not watched[; {sure}].",
			checks: []string{"Call the site: is the power on, are the heaters lit?", "Router or gateway: supply, SIM, antenna.", "The broker, and the way to it."},
			know:   []string{"Silence proves nothing: have somebody on site look at the heaters and the CO instruments until it speaks again."},
		},
		alarm.SupplyLost: {
			title:  "Mains lost",
			line:   "Mains lost[ at {heater}], {where}[, since {since}][; space too cold {harm}][; {sure}].",
			short:  "Mains lost[, {heater}], {where}[, {since}][. Too cold {harm}].",
			checks: []string{"Breaker and residual-current device; who else is without.", "Cord and plug: heat, water, damage.", "Generator: fuel, overload."},
			know:   []string{"A device that trips again has found a fault: have it found by an electrician, not held in."},
			bring:  []string{"Torch, socket tester, a sound cord."},
		},
		alarm.COSensorSuspect: {
			title:  "CO sensor not to be trusted",
			line:   "CO sensor of {node}[ on heater {heater}] not to be trusted, {where}[, since {since}][; {sure}]; do not rely on it, use the site's own CO instruments.",
			short:  "CO sensor {node}[ on {heater}] suspect, {where}[, {since}]. Go by the site's procedure, not by it[; {sure}].",
			checks: []string{"Site told to use its own CO instruments there, and nobody to go in without one.", "Inlet of the sensor: wet, painted, taped, dusty.", "Zero in clean air, then a known concentration; if it fails, calibrate; if that fails, out of service."},
			know:   []string{"Treat the air there as unknown: this sensor neither proves nor disproves CO."},
			bring:  sensorBag,
		},
		alarm.COSensorCheckDue: {
			title:  "CO sensor check due",
			line:   "The CO sensor[ of {node}][ on heater {heater}] is due its check, {where}[, since {since}][; {sure}].",
			short:  "CO sensor check due[: {node}][ on {heater}], {where}.",
			checks: []string{"Verify with a known concentration; if it fails, calibrate; if that fails, out of service."},
			bring:  sensorBag,
		},
		alarm.NodeClock: {
			title:  "Clock of a sensor unit wrong",
			line:   "The clock of sensor unit {node} is wrong[: {value}], {where}[, since {since}][; {sure}].",
			short:  "Clock of unit {node} wrong[: {value}], {where}.",
			checks: []string{"Time source of the unit; its battery.", "Several units wrong alike: the clock of the machine that heaterd runs on."},
			know:   []string{"What it sends is put right by so much meanwhile, so its alarms go on; the unit's own log stays wrong."},
		},
		alarm.RuntimeJump: {
			title:  "Run-time counter jumped",
			line:   "The run-time counter of {node}[ on heater {heater}] jumped[ by {value}], {where}[, {since}]; run-hours there are bounds until the meter is read[; {sure}].",
			short:  "Run-time counter of {node}[ on {heater}] jumped[ by {value}], {where}.",
			checks: []string{"Read the heater's own hour meter and enter it.", "Was the unit changed or moved? Enter that too."},
		},
		alarm.ChannelDown: {
			title: "Messages[ by {detail}] do not get through",
			line:  "Messages by {detail} do not get through[, since {since}]; other ways are used where there are any[; {sure}].",
			short: "Messages by {detail} do not get through[, {since}].",
			over:  "Messages by {detail} get through again[; they did not from {since}][ to {ended}].", overShort: "Messages by {detail} get through again.[ {please}]",
			checks: []string{"Address, password, credit and reach of the channel.", "A test message to everybody once it is mended: heaterd check send --person everyone."},
		},
		alarm.StoreUnavailable: {
			title: "Readings cannot be kept",
			line:  "heaterd cannot keep readings[, since {since}]; alarms may be missed and records have a gap[; {sure}].",
			short: "heaterd cannot keep readings[, {since}]. Alarms may be missed.",
			over:  "heaterd keeps readings again[; it did not from {since}][ to {ended}]: alarms may have been missed then, and records have a gap.", overShort: "heaterd keeps readings again. Alarms may have been missed.[ {please}]",
			checks: []string{"Free space on the disk of the store.", "The file's owner and mode; the disk's health.", "Sites told to watch by themselves meanwhile."},
		},
		alarm.HeaterOutOfService: {
			title: "Heater out of service",
			line:  "Heater {heater} is out of service[, {where}][; since {since}][; {sure}][, by {by}][: {why}].",
			short: "Heater {heater} is out of service[, {where}][, {since}].",
		},
	},
}
