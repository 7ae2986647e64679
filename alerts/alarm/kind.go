package alarm

// Kind says what an alarm is about.
type Kind string

// The kinds. The last three are the daemon's own; the others are public.
const (
	COCeiling           Kind = "co-ceiling"
	COShortTerm         Kind = "co-short-term"
	COShift             Kind = "co-shift"
	CODose              Kind = "co-dose"
	CORising            Kind = "co-rising"
	ShutdownUnexplained Kind = "shutdown-unexplained"
	ShutdownsRepeating  Kind = "shutdowns-repeating"
	FlameNotHolding     Kind = "flame-not-holding"
	SpaceCold           Kind = "space-cold"
	SpaceHot            Kind = "space-hot"
	SpaceCooling        Kind = "space-cooling" // on its way to too cold
	ServiceDueSoon      Kind = "service-due-soon"
	ServiceDue          Kind = "service-due"
	ServiceOverdue      Kind = "service-overdue"
	FuelLow             Kind = "fuel-low"
	NodeSilent          Kind = "node-silent"
	SiteSilent          Kind = "site-silent"
	SupplyLost          Kind = "supply-lost"
	COSensorSuspect     Kind = "co-sensor-suspect"
	COSensorCheckDue    Kind = "co-sensor-check-due"
	NodeClock           Kind = "node-clock"
	RuntimeJump         Kind = "runtime-jump"
	ChannelDown         Kind = "channel-down"          // a way of telling people does not work; Detail is the channel
	StoreUnavailable    Kind = "store-unavailable"     // readings cannot be kept
	HeaterOutOfService  Kind = "heater-out-of-service" // a person took the heater out of service; never raised by a condition
)

// Kinds lists every kind in a fixed order.
func Kinds() []Kind {
	return []Kind{
		COCeiling, COShortTerm, COShift, CODose, CORising,
		ShutdownUnexplained, ShutdownsRepeating, FlameNotHolding,
		SpaceCold, SpaceHot, SpaceCooling, ServiceDueSoon, ServiceDue, ServiceOverdue,
		FuelLow, NodeSilent, SiteSilent, SupplyLost,
		COSensorSuspect, COSensorCheckDue, NodeClock, RuntimeJump,
		ChannelDown, StoreUnavailable, HeaterOutOfService,
	}
}

// ConcernsPeople reports whether the kind is about the air people breathe:
// its texts begin with the site's procedure, and it cannot be silenced.
func (k Kind) ConcernsPeople() bool {
	switch k {
	case COCeiling, COShortTerm, COShift, CODose, CORising:
		return true
	default:
		return false
	}
}
