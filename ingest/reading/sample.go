package reading

// NodeID names a sensor unit, as its topic or its pack names it. It is valid
// UTF-8 without control characters and at most 64 bytes long; decoders refuse
// anything else.
type NodeID string

// Quantity is a set of quantities a sample carries.
type Quantity uint16

// The quantities of the telemetry contract.
const (
	Flame        Quantity = 1 << iota // flame seen, in On
	Runtime                           // cumulative burner run time, s
	CO                                // carbon monoxide, ppm by volume
	Temp                              // air temperature at the node, °C
	Supply                            // mains present at the heater, in On
	Call                              // thermostat asks for heat, in On
	Fuel                              // tank level, ratio 0 to 1
	BatteryLevel                      // node battery, ratio 0 to 1
	BatteryVolts                      // node battery, V
)

// Sample is what one node measured at one instant. Quantities absent from
// Has hold zero and mean nothing.
type Sample struct {
	At      Instant  // when it was measured, by the node's clock
	Runtime float64  // s, cumulative, counted by the node; may restart from 0
	CO      float32  // ppm; small negatives are zero drift and kept
	Temp    float32  // °C
	Fuel    float32  // ratio, 0 empty to 1 full
	Battery float32  // ratio or V, by BatteryLevel or BatteryVolts
	Has     Quantity // which quantities were sent
	On      Quantity // of Flame, Supply and Call: which were true
}

// Carries reports whether every quantity of q was sent.
func (s Sample) Carries(q Quantity) bool { return s.Has&q == q }

// Lit reports whether the flame was sent and seen.
func (s Sample) Lit() bool { return s.Has&s.On&Flame != 0 }

// Merge joins two samples of one node at one instant. It is commutative,
// associative and idempotent, so neither order nor repetition of delivery
// shows; where the two contradict each other it keeps the one that errs to
// safety: the larger CO, the larger run time, a flame seen, the lower fuel
// and battery, mains absent, no call for heat, the lower temperature.
//
// A sample has room for one battery figure: a level beats a voltage.
func (s Sample) Merge(o Sample) Sample {
	if (s.Has|o.Has)&BatteryLevel != 0 {
		s, o = s.withoutVolts(), o.withoutVolts()
	}
	both := s.Has & o.Has
	m := s
	m.Has |= o.Has
	m.Runtime = pick(both&Runtime != 0, o.Has&Runtime != 0, s.Runtime, o.Runtime, s.Runtime > o.Runtime)
	m.CO = pick(both&CO != 0, o.Has&CO != 0, s.CO, o.CO, s.CO > o.CO)
	m.Temp = pick(both&Temp != 0, o.Has&Temp != 0, s.Temp, o.Temp, s.Temp < o.Temp)
	m.Fuel = pick(both&Fuel != 0, o.Has&Fuel != 0, s.Fuel, o.Fuel, s.Fuel < o.Fuel)
	battery := BatteryLevel | BatteryVolts
	m.Battery = pick(both&battery != 0, o.Has&battery != 0, s.Battery, o.Battery, s.Battery < o.Battery)
	sent := s.On | o.On
	m.On = sent&Flame | mergeBoth(s, o, both)&(Supply|Call)
	return m
}

func (s Sample) withoutVolts() Sample {
	if s.Has&BatteryLevel == 0 {
		s.Battery = 0
	}
	s.Has &^= BatteryVolts
	return s
}

func mergeBoth(s, o Sample, both Quantity) Quantity {
	return (s.On|o.On)&^both | s.On&o.On&both
}

func pick[T float32 | float64](both, second bool, a, b T, keepA bool) T {
	switch {
	case both && keepA, !second:
		return a
	default:
		return b
	}
}
