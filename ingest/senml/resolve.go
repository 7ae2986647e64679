package senml

import (
	"cmp"
	"errors"
	"math"
	"time"

	"heaterd/ingest/quantity"
	"heaterd/ingest/reading"
	"heaterd/ingest/topic"
)

const (
	// absoluteFrom is the least time that is not relative, s (RFC 8428
	// section 4.5.3).
	absoluteFrom = 1 << 28

	// defaultVersion holds where a pack has no bver (RFC 8428 section 4.1).
	defaultVersion = 10

	// secondaryUnits is version 10 with the feature secondary units, code 4
	// (RFC 9100 sections 2 and 4).
	secondaryUnits = 26

	// maxUpdate is the longest time between readings a node may promise, s.
	// Common practice, no source: a year.
	maxUpdate = 366 * 86400
)

// The instants a reading can be of: from the first that SenML can tell
// absolutely, for a node whose clock was never set starts in 1980 or 2000 and
// its readings can be placed by their arrival, to the end of a counter of 32
// bits, which one that failed may stand at (2106-02-07).
var (
	earliest = reading.InstantOf(time.Unix(absoluteFrom, 0))
	latest   = reading.InstantOf(time.Unix(1<<32, 0))
)

// resolver carries the base fields from record to record and collects what
// the records say.
type resolver struct {
	opt     Options
	records int // begun so far, the current one included

	bn, bu  []byte
	bt, bv  float64
	hasBv   bool
	hasBs   bool // a sum is lawful in place of a value, but no quantity of ours is one
	version float64

	name   []byte // buffer for the concatenated name
	prefix []byte // what stood before the last quantity of ours
	node   reading.NodeID
	named  bool // node and prefix are set

	ut       float64
	ahead    float64 // the most that a relative time lies after the arrival, s
	absolute bool    // some time is not relative
	ignored  int
	spoilt   error // the first value that could not be taken
	samples  []reading.Sample
	each     func(resolved) // tests look at every record here
}

// resolved is one record with the base fields applied.
type resolved struct {
	name  []byte
	unit  []byte
	at    reading.Instant
	wrong error // why its time or its value cannot be taken; nil: they can
	has   label
	value float64
	on    bool
}

// add takes one record into account.
func (res *resolver) add(r *record) error {
	if err := res.takeBase(r); err != nil {
		return err
	}
	if r.unknown {
		res.ignored++
	}
	if r.has != 0 && r.has&^baseLabels == 0 {
		return nil // says nothing but what holds from here on
	}
	out, err := res.resolve(r)
	if err != nil {
		return err
	}
	if res.each != nil {
		res.each(out)
	}
	return res.measure(out, r.unknown)
}

// spoil notes a value that cannot be taken. A pack is not refused for it: a
// probe that came off must not silence the CO sensor beside it.
func (res *resolver) spoil(err error) {
	if res.spoilt == nil {
		res.spoilt = res.where(err)
	}
}

func (res *resolver) takeBase(r *record) error {
	if err := res.takeVersion(r); err != nil {
		return err
	}
	if r.has&labelBn != 0 {
		res.bn = r.bn
	}
	if r.has&labelBu != 0 {
		res.bu = r.bu
	}
	if r.has&labelBt != 0 {
		res.bt = r.bt
	}
	if r.has&labelBv != 0 {
		res.bv, res.hasBv = r.bv, true
	}
	if r.has&labelBs != 0 {
		res.hasBs = true
	}
	return nil
}

// takeVersion checks bver: all records of a pack must have the same (RFC 8428
// section 4.4).
func (res *resolver) takeVersion(r *record) error {
	v := r.bver
	if r.has&labelBver == 0 {
		if res.records == 1 {
			res.version = defaultVersion
		}
		return nil
	}
	if !known(v) {
		return reading.Refuse(reading.BadVersion, "found bver %g, allowed: 1 to %d, or %d", v, defaultVersion, secondaryUnits)
	}
	if res.records > 1 && v != res.version {
		return reading.Refuse(reading.BadVersion, "found bver %g after %g, allowed: one version in a pack", v, res.version)
	}
	res.version = v
	return nil
}

func known(v float64) bool {
	return v >= 1 && v == math.Trunc(v) && (v <= defaultVersion || v <= secondaryUnits && int(v)&^secondaryUnits == 0)
}

func (res *resolver) resolve(r *record) (resolved, error) {
	out := resolved{unit: res.bu, has: r.has, on: r.vb}
	if r.has&labelU != 0 {
		out.unit = r.u
	}
	if err := res.takeValue(r, &out); err != nil {
		return out, err
	}
	if err := res.takeUpdate(r); err != nil {
		return out, err
	}
	out.at, out.wrong = res.time(r.t)
	out.wrong = cmp.Or(r.spoilt, out.wrong)
	var err error
	out.name, err = res.join(r.n)
	return out, err
}

// takeValue applies RFC 8428 sections 4.2 and 4.5.4: one value, or none where
// there is a sum; bases are added.
func (res *resolver) takeValue(r *record, out *resolved) error {
	values := r.has & valueLabels
	if values&(values-1) != 0 {
		return reading.Refuse(reading.BadField, "found several of v, vs, vb and vd, allowed: one")
	}
	if values == 0 && res.hasBv {
		values = labelV
	}
	if r.has&labelS != 0 || res.hasBs {
		out.has |= labelS
	}
	out.has |= values
	if values == labelV {
		out.value = res.bv + r.v
	}
	if out.has&(valueLabels|labelS) == 0 {
		return reading.Refuse(reading.BadField, "found no value, allowed: one of v, vs, vb and vd, or s")
	}
	return nil
}

func (res *resolver) takeUpdate(r *record) error {
	if r.has&labelUt == 0 {
		return nil
	}
	if !(r.ut >= 0 && r.ut <= maxUpdate) {
		return reading.Refuse(reading.BadRange, "found ut %g s, allowed: 0 to %d s", r.ut, maxUpdate)
	}
	res.ut = max(res.ut, r.ut)
	return nil
}

// time applies RFC 8428 section 4.5.3. Base and offset are each brought to
// microseconds before they are added: their sum has not the digits for it.
func (res *resolver) time(t float64) (reading.Instant, error) {
	s := res.bt + t
	at := reading.InstantOfSeconds(res.bt).AddSeconds(t)
	if s >= absoluteFrom {
		res.absolute = true
	} else {
		at = res.opt.Arrived.AddSeconds(s)
		res.ahead = max(res.ahead, s)
	}
	if !(math.Abs(s) < 1e11 && math.Abs(t) < 1e12) || at < earliest || at >= latest { // so that the microseconds stay inside 64 bits
		return 0, reading.Refuse(reading.BadTime, "found %g s since 1970 or since arrival, allowed: from %s, before %s", s, earliest, latest)
	}
	return at, nil
}

// measure keeps what is a quantity of ours.
func (res *resolver) measure(r resolved, counted bool) error {
	prefix, last := split(r.name)
	spec := quantity.Named(string(last))
	if spec == nil || r.has&(labelV|labelVb|labelVs|labelVd) == 0 {
		if !counted {
			res.ignored++
		}
		return nil
	}
	if err := res.takeNode(prefix); err != nil {
		return err
	}
	s, err := res.sample(spec, r)
	if err = cmp.Or(r.wrong, err); err != nil {
		res.spoil(err)
		return nil
	}
	s.At = r.at
	res.keep(s)
	return nil
}

func (res *resolver) sample(spec *quantity.Spec, r resolved) (reading.Sample, error) {
	switch {
	case r.has&labelVb != 0:
		return spec.Switch(r.on)
	case r.has&labelV != 0:
		return spec.Number(r.value, string(r.unit), res.version == secondaryUnits)
	}
	return reading.Sample{}, reading.Refuse(reading.BadField, "found text or data for %s, allowed: v or vb", spec.Name)
}

// keep joins s with the sample before it where they are of one instant.
func (res *resolver) keep(s reading.Sample) {
	if n := len(res.samples); n > 0 && res.samples[n-1].At == s.At {
		res.samples[n-1] = res.samples[n-1].Merge(s)
		return
	}
	res.samples = append(res.samples, s)
}

// takeNode checks that prefix tells the node the topic or the first quantity
// told.
func (res *resolver) takeNode(prefix []byte) error {
	if res.named && string(prefix) == string(res.prefix) {
		return nil
	}
	node, err := res.nodeOf(prefix)
	if err != nil {
		return err
	}
	if res.named && node != res.node {
		return reading.Refuse(reading.BadName, "found the node %q after %q, allowed: one node in a pack", node, res.node)
	}
	res.prefix = append(res.prefix[:0], prefix...)
	res.node, res.named = node, true
	return nil
}

func (res *resolver) nodeOf(prefix []byte) (reading.NodeID, error) {
	want := res.opt.Node
	if want == "" {
		_, node := split(prefix)
		if len(node) == 0 {
			return "", nil
		}
		if err := topic.ValidNode(string(node)); err != nil {
			return "", reading.Refuse(reading.BadName, "%v", err)
		}
		return reading.NodeID(node), nil
	}
	if len(prefix) > 0 && !tells(prefix, string(want)) {
		return "", reading.Refuse(reading.BadTopic, "found the name %q, allowed: one with the node %q of the topic", prefix, want)
	}
	return want, nil
}

// pack finishes: samples ascend, one for each instant.
func (res *resolver) pack() (reading.Pack, error) {
	if len(res.samples) == 0 && res.spoilt != nil {
		return reading.Pack{}, res.spoilt
	}
	if len(res.samples) == 0 {
		return reading.Pack{}, reading.Refuse(reading.NothingIn, "found %d records, none a quantity of ours; names end in one of %v, after / or :",
			res.records, quantity.Names())
	}
	res.unset()
	return reading.Pack{
		Node:    res.node,
		Samples: ascending(res.samples),
		Within:  time.Duration(math.Round(res.ut*1e6)) * time.Microsecond,
		Ignored: res.ignored,
		Spoilt:  asRefusal(res.spoilt),
	}, nil
}

// unset brings relative times that lie after the arrival to it: nothing is
// measured before it is so, and a node whose clock is not set yet stamps what
// it measures by the time since it was switched on, from 0. Its newest reading is
// of now.
func (res *resolver) unset() {
	if res.ahead == 0 {
		return
	}
	first := res.opt.Arrived
	if res.absolute {
		first++ // what is of the arrival itself may be told so
	}
	for i, x := range res.samples {
		if x.At >= first && x.At <= res.opt.Arrived.AddSeconds(res.ahead) {
			res.samples[i].At = x.At.AddSeconds(-res.ahead)
		}
	}
}

func asRefusal(err error) *reading.Refusal {
	r, _ := errors.AsType[*reading.Refusal](err)
	return r
}
