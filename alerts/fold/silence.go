package fold

import (
	"cmp"
	"fmt"
	"strings"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/trust"
	"heaterd/ingest/reading"
)

// lookAtSilence finds nodes that are not heard any more. Nodes of a site that
// vanish together are one alarm; theirs are shown under it. Those that a person
// took out of service are not missed.
func (e *Engine) lookAtSilence(s *site) {
	silent := 0
	for _, h := range s.heaters {
		if h.node != "" && h.silentAt(e.now) && !e.book.Out(h.ID) {
			silent++
		}
	}
	var from reading.Instant
	whole := false
	if silent > 1 {
		from, whole = trust.SiteSilent(s.words(e.now), e.now)
	}
	e.hold(&s.still, siteBit, whole, func() alarm.Key { return s.silence }, func(c *alarm.Condition) {
		c.Since = s.lastHeard()
		if last := e.lastAir(s); last != "" {
			c.Findings.Evidence = []string{last}
		}
	})
	for _, h := range s.heaters {
		e.lookAtNode(h, whole && h.Heard >= from)
	}
}

// lastAir tells of the last CO in the spaces of a site where what was told may
// go on, or where an alarm about CO stands.
func (e *Engine) lastAir(s *site) string {
	var all []string
	for _, sp := range s.spaces {
		worst, known := sp.lastCO()
		if known && (worst >= trust.BesidePPM || e.standsIn(s.ID, sp.ID) != "") {
			all = append(all, fmt.Sprintf("%.0f ppm in %s", worst, cmp.Or(sp.Name, sp.ID)))
		}
	}
	if len(all) == 0 {
		return ""
	}
	return "site's procedure first: last CO " + strings.Join(all, ", ")
}

// lastCO is the highest that the sensors of the space said last.
func (s *space) lastCO() (ppm float64, known bool) {
	for _, h := range s.heaters {
		if h.tells(reading.CO) {
			ppm, known = max(ppm, h.Live.Air.LastPPM), true
		}
	}
	return ppm, known
}

// words are the last that was heard of each node of the site. One that says
// itself that it is gone has been silent for as long as it takes.
func (s *site) words(now reading.Instant) []trust.Word {
	var out []trust.Word
	for _, h := range s.heaters {
		if h.node == "" {
			continue
		}
		w := trust.Word{Last: h.Heard, After: h.silentAfter()}
		if h.silentAt(now) {
			w.After = min(w.After, now.Sub(h.Heard)-1)
		}
		out = append(out, w)
	}
	return out
}

func (e *Engine) lookAtNode(h *heater, withSite bool) {
	if h.node == "" {
		return
	}
	e.holdNode(h, silentBit, alarm.NodeSilent, h.silentAt(e.now), func(c *alarm.Condition) {
		if c.Since = h.Heard; h.Heard == 0 {
			c.Since = h.Begin
			c.Findings.Evidence = append(c.Findings.Evidence, "it has never been heard")
		}
		if last := h.Live.Air.LastPPM; last >= trust.BesidePPM && h.tells(reading.CO) {
			c.Priority = alarm.High // what it had begun to tell may go on
			c.Findings.Evidence = []string{fmt.Sprintf("site's procedure first: last CO there %.0f ppm", last)}
		}
		if h.Packs.Last > h.Heard && h.Heard != 0 {
			c.Findings.Evidence = append(c.Findings.Evidence, "what comes from it is old: it sends what it had kept")
		}
		if _, fitted := h.lastWord(); fitted != 0 {
			c.Findings.Evidence = append(c.Findings.Evidence, "it has not been heard yet since it was fitted")
		}
		if withSite {
			c.Under = &h.site.silence
		}
	})
}

// silentAt reports whether nothing fresh came for longer than the node ever
// takes, or its own word or will said that it is gone.
func (h *heater) silentAt(now reading.Instant) bool {
	quiet := now.Sub(h.Heard)
	switch {
	case h.Heard == 0:
		return now.Sub(h.Begin) > h.rules.NeverHeard
	case quiet <= trust.SilentLeast/2 || quiet <= trust.SilentLeast && !h.Offline:
		return false
	case h.Offline:
		return quiet > h.silentAfter()/2
	}
	return quiet > h.silentAfter()
}

// silentAfter waits longer for the second word of a node that promised nothing,
// for only that tells how often it reports; not of one that said it is gone.
func (h *heater) silentAfter() time.Duration {
	after := trust.SilentAfter(h.Live.Every.Expected(h.Within), h.Packs.Likely(), h.Lost) + seconds(h.Lag)
	if h.Packs.Once() && h.Within == 0 && !h.Offline {
		return max(after, trust.OnceHeard)
	}
	return after
}

// lagKeep is how much of the longest delay is believed still after another
// pack; a backlog, later than the lateness window, is no delay. Common
// practice, no source.
const lagKeep = 0.995

// delay notes how late a pack came: a node whose packs are shuffled on the
// way is not silent while they are.
func (h *heater) delay(late time.Duration) {
	h.Lag *= lagKeep
	if late <= h.rules.Lateness {
		h.Lag = max(h.Lag, late.Seconds())
	}
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// lastHeard is when the site was heard last, or since when it is waited for.
func (s *site) lastHeard() reading.Instant {
	var last reading.Instant
	for _, h := range s.heaters {
		last = max(last, cmp.Or(h.Heard, h.Begin))
	}
	return last
}
