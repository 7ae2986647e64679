package alarm

import "time"

const (
	day      = 24 * time.Hour
	practice = "common practice, no source"

	// area is the dead-band of CO kinds, in ppm: NIOSH method 6604 gives the
	// electrochemical cell a detection limit of 1 ppm and ±6 %, so changes
	// under about 3 ppm say nothing.
	area = 3
)

// restless is the damping of kinds whose condition can flutter. Three alarms
// of one kind in a minute is the usual definition of chattering (EEMUA 191,
// from memory); readings here come once in some seconds to minutes, hence the
// longer window. Common practice, no source.
var restless = Chatter{Count: 3, Window: 30 * time.Minute, Hold: 30 * time.Minute}

// defaults is one row a kind. Delays and re-alarm times are common practice
// without a source unless the row says otherwise; the delays are kept within
// those commonly used for slow signals (60 s for level and temperature).
var defaults = []Rule{
	// Air that people breathe: at once, latched, never silenced.
	{Kind: COCeiling, Priority: Critical, Consequence: People, OffDelay: 5 * time.Minute, Measured: true, DeadBand: area,
		Latching: true, HighlyManaged: true, ReAlarm: 15 * time.Minute, Source: "dead-band: NIOSH 6604; times: " + practice},
	{Kind: COShortTerm, Priority: Critical, Consequence: People, OffDelay: 5 * time.Minute, Measured: true, DeadBand: area,
		Latching: true, HighlyManaged: true, ReAlarm: 30 * time.Minute, Source: "dead-band: NIOSH 6604; times: " + practice},
	{Kind: COShift, Priority: High, Consequence: People, OffDelay: 15 * time.Minute, Measured: true, DeadBand: 1,
		Latching: true, HighlyManaged: true, ReAlarm: time.Hour, Source: practice},
	{Kind: CODose, Priority: Critical, Consequence: People, OffDelay: 15 * time.Minute, Measured: true, DeadBand: 0.5,
		Latching: true, HighlyManaged: true, ReAlarm: 30 * time.Minute, Source: practice},
	{Kind: CORising, Priority: High, Consequence: People, OffDelay: 5 * time.Minute, Measured: true,
		HighlyManaged: true, ReAlarm: 30 * time.Minute, Source: practice},

	// The heater: the shutdown rules have waited already, so no delay here; and
	// no damping, since each stop after a relight is news to whoever relit it.
	{Kind: ShutdownUnexplained, Priority: Medium, Consequence: Work, ReAlarm: 4 * time.Hour,
		MaxShelve: day, Source: practice},
	{Kind: ShutdownsRepeating, Priority: High, Consequence: Work, ReAlarm: day, MaxShelve: 7 * day, Source: practice},
	{Kind: FlameNotHolding, Priority: High, Consequence: Work, OffDelay: 10 * time.Minute, ReAlarm: 4 * time.Hour,
		MaxShelve: day, Chatter: restless, Source: practice},

	// The space.
	{Kind: SpaceCold, Priority: Medium, Consequence: Property, OnDelay: time.Minute, OffDelay: 5 * time.Minute, Measured: true,
		DeadBand: 0.5, Falling: true, ReAlarm: 2 * time.Hour, MaxShelve: 12 * time.Hour, Chatter: restless, Source: practice},
	{Kind: SpaceHot, Priority: Medium, Consequence: Property, OnDelay: time.Minute, OffDelay: 5 * time.Minute, Measured: true,
		DeadBand: 0.5, ReAlarm: 2 * time.Hour, MaxShelve: 12 * time.Hour, Chatter: restless, Source: practice},

	{Kind: SpaceCooling, Priority: Medium, Consequence: Property, OnDelay: 10 * time.Minute, OffDelay: 10 * time.Minute, Measured: true,
		Falling: true, ReAlarm: 2 * time.Hour, MaxShelve: 12 * time.Hour, Chatter: restless, Source: practice},

	// Service and fuel.
	{Kind: ServiceDueSoon, Priority: Low, Consequence: Records, MaxShelve: 30 * day, Source: practice},
	{Kind: ServiceDue, Priority: Low, Consequence: Work, MaxShelve: 14 * day, Source: practice},
	{Kind: ServiceOverdue, Priority: Medium, Consequence: Work, ReAlarm: 7 * day, MaxShelve: 7 * day, Source: practice},
	{Kind: FuelLow, Priority: Medium, Consequence: Work, OnDelay: time.Minute, OffDelay: time.Minute,
		DeadBand: 0.02, Falling: true, ReAlarm: 8 * time.Hour, MaxShelve: day, Chatter: restless, Source: practice},

	// What is known about it all.
	{Kind: NodeSilent, Priority: Medium, Consequence: Records, OffDelay: time.Minute, ReAlarm: day,
		MaxShelve: 7 * day, Chatter: restless, Source: practice},
	{Kind: SiteSilent, Priority: High, Consequence: Property, OffDelay: time.Minute, ReAlarm: 4 * time.Hour,
		MaxShelve: day, Chatter: restless, Source: practice},
	{Kind: SupplyLost, Priority: Medium, Consequence: Work, OffDelay: time.Minute, ReAlarm: 4 * time.Hour,
		MaxShelve: day, Chatter: restless, Source: practice},
	{Kind: COSensorSuspect, Priority: High, Consequence: People, OffDelay: 10 * time.Minute, Measured: true, ReAlarm: 12 * time.Hour,
		MaxShelve: day, Chatter: restless, Source: practice},
	{Kind: COSensorCheckDue, Priority: Low, Consequence: Records, MaxShelve: 7 * day,
		Source: "OSHA bulletin on direct-reading monitors (2024) asks for the check; times: " + practice},
	{Kind: NodeClock, Priority: Low, Consequence: Records, OffDelay: 10 * time.Minute, MaxShelve: 7 * day, Chatter: restless, Source: practice},
	{Kind: RuntimeJump, Priority: Low, Consequence: Records, MaxShelve: 7 * day, Source: practice},
	{Kind: ChannelDown, Priority: High, Consequence: Work, OffDelay: time.Minute, ReAlarm: 4 * time.Hour, MaxShelve: day, Source: practice},
	{Kind: StoreUnavailable, Priority: Critical, Consequence: Records, OffDelay: time.Minute, ReAlarm: time.Hour, MaxShelve: time.Hour, Source: practice},
	{Kind: HeaterOutOfService, Priority: Low, Consequence: Work, Source: practice},
}
