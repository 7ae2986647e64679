package alarm

// State is where an alarm is in its life.
type State string

// The states of the contract.
const (
	Normal         State = "normal"
	Unacknowledged State = "unacknowledged"
	Acknowledged   State = "acknowledged"
	Returned       State = "returned" // the condition is gone, nobody has acknowledged
	Latched        State = "latched"  // the condition is gone, nobody has reset
	Shelved        State = "shelved"
	Suppressed     State = "suppressed" // by design, or folded under its cause
	OutOfService   State = "out-of-service"
)

// States lists the states in a fixed order.
func States() []State {
	return []State{Normal, Unacknowledged, Acknowledged, Returned, Latched, Shelved, Suppressed, OutOfService}
}

// Event is what moves an alarm from state to state.
type Event string

// The events. Raise, Clear, Expire, Suppress, Unsuppress, AlarmAgain and
// LateEvidence come from the process and the clock, the others from people.
const (
	Raise        Event = "alarm"
	Clear        Event = "clear"
	Acknowledge  Event = "acknowledge"
	Reset        Event = "reset"
	Shelve       Event = "shelve"
	Unshelve     Event = "unshelve"
	Expire       Event = "expire" // a shelving ran out
	Suppress     Event = "suppress"
	Unsuppress   Event = "unsuppress"
	TakeOut      Event = "out-of-service"
	PutBack      Event = "in-service"
	AlarmAgain   Event = "re-alarm"      // acknowledged long ago or grown graver, and it still holds
	LateEvidence Event = "late-evidence" // it held, but the word came too late to tell anyone
)

// effect is one cell of the table.
type effect uint8

const (
	unlisted  effect = iota // no cell: a fault, found by a test
	nothing                 // the event changes nothing here
	refuse                  // a person asked for what cannot be
	toUnacked               //
	toAcked                 //
	toRest                  // condition gone: latched, returned, or normal if acknowledged
	toNormal                //
	toLatched               //
	toShelved               //
	toSuppr                 //
	toOut                   //
	toProcess               // the state the process is in
)

// life is the whole of it: what each event does in each state.
var life = map[State]map[Event]effect{
	Normal: {
		Raise: toUnacked, Clear: nothing, Acknowledge: refuse, Reset: refuse,
		Shelve: refuse, Unshelve: refuse, Expire: nothing,
		Suppress: toSuppr, Unsuppress: nothing, TakeOut: toOut, PutBack: refuse, AlarmAgain: nothing,
		LateEvidence: toRest,
	},
	Unacknowledged: {
		Raise: nothing, Clear: toRest, Acknowledge: toAcked, Reset: refuse,
		Shelve: toShelved, Unshelve: refuse, Expire: nothing,
		Suppress: toSuppr, Unsuppress: nothing, TakeOut: toOut, PutBack: refuse, AlarmAgain: toUnacked,
		LateEvidence: nothing,
	},
	Acknowledged: {
		Raise: nothing, Clear: toRest, Acknowledge: nothing, Reset: refuse,
		Shelve: toShelved, Unshelve: refuse, Expire: nothing,
		Suppress: toSuppr, Unsuppress: nothing, TakeOut: toOut, PutBack: refuse, AlarmAgain: toUnacked,
		LateEvidence: nothing,
	},
	Returned: {
		Raise: toUnacked, Clear: nothing, Acknowledge: toNormal, Reset: refuse,
		Shelve: toShelved, Unshelve: refuse, Expire: nothing,
		Suppress: toSuppr, Unsuppress: nothing, TakeOut: toOut, PutBack: refuse, AlarmAgain: nothing,
		LateEvidence: nothing,
	},
	Latched: {
		Raise: toUnacked, Clear: nothing, Acknowledge: toLatched, Reset: toNormal,
		Shelve: refuse, Unshelve: refuse, Expire: nothing,
		Suppress: nothing, Unsuppress: nothing, TakeOut: refuse, PutBack: refuse, AlarmAgain: nothing,
		LateEvidence: nothing,
	},
	Shelved: {
		Raise: nothing, Clear: nothing, Acknowledge: refuse, Reset: refuse,
		Shelve: toShelved, Unshelve: toProcess, Expire: toProcess,
		Suppress: nothing, Unsuppress: nothing, TakeOut: toOut, PutBack: refuse, AlarmAgain: toProcess,
		LateEvidence: nothing,
	},
	Suppressed: {
		Raise: nothing, Clear: toProcess, Acknowledge: refuse, Reset: refuse,
		Shelve: refuse, Unshelve: refuse, Expire: nothing,
		Suppress: nothing, Unsuppress: toProcess, TakeOut: toOut, PutBack: refuse, AlarmAgain: nothing,
		LateEvidence: nothing,
	},
	OutOfService: {
		Raise: nothing, Clear: nothing, Acknowledge: refuse, Reset: refuse,
		Shelve: refuse, Unshelve: refuse, Expire: nothing,
		Suppress: nothing, Unsuppress: nothing, TakeOut: nothing, PutBack: toProcess, AlarmAgain: nothing,
		LateEvidence: nothing,
	},
}

// goal is the state an effect leads to, from what is known of the process.
func (e effect) goal(a *Alarm, latching bool) State {
	switch e {
	case toUnacked:
		return Unacknowledged
	case toAcked:
		return Acknowledged
	case toRest:
		return rest(latching, a.Acked)
	case toNormal:
		return Normal
	case toLatched:
		return Latched
	case toShelved:
		return Shelved
	case toSuppr:
		return Suppressed
	case toOut:
		return OutOfService
	case toProcess:
		return process(latching, a.Active)
	default:
		return a.State
	}
}

func rest(latching, acked bool) State {
	switch {
	case latching:
		return Latched
	case acked:
		return Normal
	default:
		return Returned
	}
}

// process is where an alarm stands once nothing holds it back. Whoever
// shelved it had seen it, so a condition that is gone needs no further
// acknowledgement; one that holds needs a fresh one.
func process(latching, active bool) State {
	switch {
	case active:
		return Unacknowledged
	case latching:
		return Latched
	default:
		return Normal
	}
}
