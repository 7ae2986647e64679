package fold

import (
	"slices"

	"heaterd/alerts/alarm"
)

// still remembers for one heater, space or site which kinds the book is known
// to be quiet about, so that a reading that changes nothing costs no look-up.
// It is no part of a snapshot: nothing remembered only costs the look-ups.
type still uint32

// kindBits gives every kind a bit.
var kindBits = func() map[alarm.Kind]still {
	bits := map[alarm.Kind]still{}
	for i, k := range alarm.Kinds() {
		bits[k] = 1 << i
	}
	return bits
}()

// bits of the kinds that every reading looks at.
var (
	ceilingBit   = kindBits[alarm.COCeiling]
	shortBit     = kindBits[alarm.COShortTerm]
	shiftBit     = kindBits[alarm.COShift]
	doseBit      = kindBits[alarm.CODose]
	risingBit    = kindBits[alarm.CORising]
	shutdownBit  = kindBits[alarm.ShutdownUnexplained]
	coldBit      = kindBits[alarm.SpaceCold]
	hotBit       = kindBits[alarm.SpaceHot]
	coolingBit   = kindBits[alarm.SpaceCooling]
	fuelBit      = kindBits[alarm.FuelLow]
	silentBit    = kindBits[alarm.NodeSilent]
	siteBit      = kindBits[alarm.SiteSilent]
	supplyBit    = kindBits[alarm.SupplyLost]
	suspectBit   = kindBits[alarm.COSensorSuspect]
	clockBit     = kindBits[alarm.NodeClock]
	jumpBit      = kindBits[alarm.RuntimeJump]
	repeatingBit = kindBits[alarm.ShutdownsRepeating]
	holdingBit   = kindBits[alarm.FlameNotHolding]
)

// calm reports whether a condition that does not hold would change nothing.
// quiet is asked only where that is not remembered.
func (s *still) calm(bit still, active bool, quiet func() bool) bool {
	if active {
		*s &^= bit
		return false
	}
	if *s&bit == 0 && quiet() {
		*s |= bit
	}
	return *s&bit != 0
}

// hold observes a condition, unless it neither holds nor ever alarmed.
func (e *Engine) hold(s *still, bit still, active bool, key func() alarm.Key, fill func(*alarm.Condition)) {
	if s.calm(bit, active, func() bool { return e.book.Quiet(key()) }) {
		return
	}
	e.put(active, key(), fill)
}

// put observes a condition that needs no figures.
func (e *Engine) put(active bool, key alarm.Key, fill func(*alarm.Condition)) {
	if !active && e.book.Quiet(key) {
		return
	}
	c := alarm.Condition{Key: key, Active: active, Known: true}
	if fill != nil {
		fill(&c)
	}
	e.observe(c)
}

func (h *heater) key(k alarm.Kind) alarm.Key {
	return alarm.Key{Kind: k, Site: h.Site, Space: h.Space, Heater: h.ID}
}

func (h *heater) nodeKey(k alarm.Kind) alarm.Key {
	key := h.key(k)
	key.Node = string(h.node)
	return key
}

// holdNode, holdHeater and holdSpace observe a condition of a node, of a
// heater, of its space.
func (e *Engine) holdNode(h *heater, bit still, k alarm.Kind, active bool, fill func(*alarm.Condition)) {
	e.hold(&h.still, bit, active, func() alarm.Key { return h.nodeKey(k) }, fill)
}

func (e *Engine) holdHeater(h *heater, bit still, k alarm.Kind, active bool, fill func(*alarm.Condition)) {
	e.hold(&h.still, bit, active, func() alarm.Key { return h.key(k) }, fill)
}

func (e *Engine) holdSpace(h *heater, bit still, k alarm.Kind, active bool, fill func(*alarm.Condition)) {
	e.hold(&h.space.still, bit, active, func() alarm.Key { return h.airKey(k) }, fill)
}

// others reports whether one of the space's other heaters is so.
func (s *space) others(except *heater, is func(*heater) bool) bool {
	return slices.ContainsFunc(s.heaters, func(h *heater) bool { return h != except && is(h) })
}
