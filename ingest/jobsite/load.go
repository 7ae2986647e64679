package jobsite

import (
	"time"

	"heaterd/ingest/reading"
)

// Load is an endless stream of telemetry for benchmarks: no physics but a
// flame that is lit half of every loadCycle, in constant time per message.
type Load struct {
	heaters  int
	interval reading.Instant
	start    reading.Instant
	n        int64 // messages given
	topics   []string
	nodes    []string
	runtime  []float64
	sample   [1]reading.Sample
	buf      []byte
}

const (
	loadCycle   = 40 * 60 // s from one lighting to the next
	loadPerSite = 20      // heaters
)

// NewLoad makes a stream of n heaters that report every interval from start,
// evenly spread over it. It needs n of at least 1 and a positive interval.
func NewLoad(n int, interval time.Duration, start reading.Instant) *Load {
	l := &Load{heaters: n, interval: reading.Instant(interval / time.Microsecond), start: start, runtime: make([]float64, n)}
	for i := range n {
		l.nodes = append(l.nodes, nodeName("n", i))
		m := Message{Site: nodeName("site", i/loadPerSite), Node: l.nodes[i]}
		l.topics = append(l.topics, m.Topic())
	}
	return l
}

// Next gives the next message: its topic, its SenML JSON payload, valid until
// the next call, and its instant, never before the last one's.
func (l *Load) Next() (topic string, payload []byte, at reading.Instant) {
	i, round := int(l.n%int64(l.heaters)), l.n/int64(l.heaters)
	at = l.start + l.interval*reading.Instant(round) + l.interval*reading.Instant(i)/reading.Instant(l.heaters)
	l.n++
	cycle := (int64(at.Seconds(l.start)) + int64(i)*37) % loadCycle
	on := cycle < loadCycle/2
	s := reading.Sample{At: at, Runtime: l.runtime[i], Has: reading.Flame | reading.Runtime | reading.CO | reading.Temp}
	s.CO = float32(2 + cycle%8)
	s.Temp = float32(10 + cycle%4)
	if on {
		s.On = reading.Flame
		l.runtime[i] += float64(l.interval) / 1e6
	}
	l.sample[0] = s
	m := Message{Node: l.nodes[i], Samples: l.sample[:], Within: time.Duration(l.interval) * time.Microsecond}
	l.buf = m.AppendSenML(l.buf[:0])
	return l.topics[i], l.buf, at
}

// FleetYAML gives the configuration that lists every heater of the stream.
func (l *Load) FleetYAML() string {
	var s Spec
	for i := range l.heaters {
		if i%loadPerSite == 0 {
			id := nodeName("site", i/loadPerSite)
			s.Sites = append(s.Sites, SiteSpec{ID: id, Zone: "UTC", Limits: "us-niosh", Activity: "light", Procedure: procedure,
				Spaces: []SpaceSpec{{ID: "hall", VolumeM3: 2000}}})
		}
		site := &s.Sites[len(s.Sites)-1]
		h := heaterOf(nodeName("H", i), "hall", 44, &Thermostat{SetpointC: 12, DifferentialC: 2}, 0)
		h.Node.ID = l.nodes[i]
		site.Heaters = append(site.Heaters, h)
	}
	return s.fleetYAML()
}
