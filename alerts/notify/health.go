package notify

import (
	"errors"
	"slices"
	"strings"
	"time"
)

// A channel counts as down after so many failures in a row over so long, and
// where its receiver asks for a long pause. Common practice, no source.
const (
	failuresToDown = 3
	timeToDown     = time.Minute

	// longPause is as good as down: nothing is tried meanwhile, so nothing else
	// would find that the channel fails. What is critical waits no longer than
	// this for a receiver that asked for more.
	longPause = 5 * time.Minute
)

// pulse is how a channel fares.
type pulse struct {
	failures int       // in a row
	since    time.Time // of the first of them
	down     bool
	known    bool      // told at least once
	gone     bool      // the receiver wants nothing more
	asked    time.Time // when the receiver asked for a pause
	paused   time.Time // until when
	why      string
}

// Health is how a channel fares.
type Health struct {
	Channel string
	Down    bool
	Why     string // last error, while it fails
}

// Health lists how the channels fare, by id.
func (c *Courier) Health() []Health {
	c.mu.Lock()
	defer c.mu.Unlock()
	var all []Health
	for id := range c.o.Senders {
		p := c.pulseOf(id)
		all = append(all, Health{id, p.down, p.why})
	}
	slices.SortFunc(all, func(a, b Health) int { return strings.Compare(a.Channel, b.Channel) })
	return all
}

// Mute reports whether every channel by which somebody on call is told is down.
func (c *Courier) Mute() bool {
	all := map[string]bool{}
	for _, p := range c.o.Planner.settings.People {
		for _, id := range p.Channels {
			all[id] = true
		}
	}
	for id := range all {
		if !c.down(id) {
			return false
		}
	}
	return len(all) > 0
}

func (c *Courier) pulseOf(channel string) *pulse {
	p := c.pulse[channel]
	if p == nil {
		p = &pulse{}
		c.pulse[channel] = p
	}
	return p
}

// refuses says why nothing is to be sent on a channel now; nil: nothing is
// against it.
func (c *Courier) refuses(channel string, critical bool) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	p := c.pulseOf(channel)
	until := p.paused
	if most := p.asked.Add(longPause); critical && until.After(most) {
		until = most
	}
	switch left := time.Until(until); {
	case p.gone:
		return ErrGone
	case left > 0:
		return RetryAfter(left, errors.New("the receiver asked for a pause"))
	}
	return nil
}

// note keeps what an attempt came to, tells when the channel changed, and
// reports whether it did.
func (c *Courier) note(channel string, err error) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	p := c.pulseOf(channel)
	failed := p.failures > 0
	changed := p.beat(err, time.Now())
	c.journal(channel, p, failed, changed)
	if changed && c.o.Down != nil {
		c.o.Down(channel, p.down, p.why)
	}
	return changed
}

// journal writes down for whoever looks after the machine that a channel begins
// to fail, counts as down, and works again: an alarm of it may have no other
// channel to go by.
func (c *Courier) journal(channel string, p *pulse, failed, changed bool) {
	switch {
	case changed && p.down:
		c.o.Logger.Error("a channel does not work", "channel", channel, "why", p.why)
	case !failed && p.failures > 0:
		c.o.Logger.Warn("a message could not be sent", "channel", channel, "why", p.why)
	case failed && p.failures == 0:
		c.o.Logger.Info("a channel works again", "channel", channel)
	}
}

// beat gives true when there is something to tell.
func (p *pulse) beat(err error, now time.Time) bool {
	if err == nil {
		news := p.down || !p.known
		*p = pulse{known: true}
		return news
	}
	p.fail(err, now)
	often := p.failures >= failuresToDown && now.Sub(p.since) >= timeToDown
	long := p.asked.Equal(now) && p.paused.Sub(now) > longPause
	if p.down || !p.gone && !often && !long {
		return false
	}
	p.down, p.known = true, true
	return true
}

func (p *pulse) fail(err error, now time.Time) {
	if p.failures == 0 {
		p.since = now
	}
	p.failures++
	p.why = err.Error()
	p.gone = p.gone || errors.Is(err, ErrGone)
	if later, ok := errors.AsType[*RetryError](err); ok {
		p.asked, p.paused = now, now.Add(later.After)
	}
}
