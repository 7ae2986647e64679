package notify

import (
	"context"
	"slices"
	"strings"
	"time"

	"heaterd/alerts/ledger"
	"heaterd/ingest/reading"
)

// noted keeps what an attempt on a channel came to. When it works again, what
// failed on it meanwhile does not wait out its pause: what is critical has the
// shortest, and would come after all that waited longer.
func (c *Courier) noted(ctx context.Context, channel string, err error) {
	if !c.note(channel, err) || err != nil {
		return
	}
	now := reading.InstantOf(time.Now())
	if err := c.o.Outbox.Retry(context.WithoutCancel(ctx), channel, now, now.Add(lease)); err != nil {
		c.o.Logger.Error("what waited for a channel that works again waits on", "channel", channel, "err", err)
		return
	}
	c.Wake()
}

// advance brings forward the first later step that has a channel which works,
// where nobody of this one can be reached: waiting for an answer of somebody who
// cannot have been told helps nobody. It is for what is urgent; why is what the
// attempt came to. What tells once more of bad air, after the last step, keeps
// its time.
func (c *Courier) advance(ctx context.Context, j ledger.Job, m Message, why error, now time.Time) error {
	if m.Kind != Raised || !m.Urgent() || !asked(j) || !IsPermanent(why) && !c.down(m.Channel) {
		return nil
	}
	all, err := c.o.Outbox.JobsOf(ctx, j.Alarm)
	if err != nil || slices.ContainsFunc(all, func(o ledger.Job) bool { return mayAnswer(o, j) }) {
		return err
	}
	for _, next := range c.reachable(all, j) {
		if err := c.o.Outbox.BringForward(ctx, next.ID, reading.InstantOf(now)); err != nil {
			return err
		}
		c.Wake()
	}
	return nil
}

// reachable are the messages of the first step after this one that go by a
// channel which works.
func (c *Courier) reachable(all []ledger.Job, j ledger.Job) []ledger.Job {
	for step := j.Step + 1; step < len(c.o.Planner.settings.Steps); step++ {
		next := slices.DeleteFunc(slices.Clone(all), func(o ledger.Job) bool {
			return o.Seq != j.Seq || o.Step != step || !asked(o) || c.down(o.Channel)
		})
		if len(next) > 0 {
			return next
		}
	}
	return nil
}

// asked reports whether a message is to somebody who is asked to answer: not to
// all who listen, nor to a contact of the site.
func asked(j ledger.Job) bool { return j.Person != "" && !strings.HasPrefix(j.Person, contactPrefix) }

// mayAnswer reports whether another message of the same step got through, or
// was not tried yet.
func mayAnswer(o, j ledger.Job) bool {
	return o.ID != j.ID && o.Seq == j.Seq && o.Step == j.Step && asked(o) &&
		(o.State == ledger.Sent || o.State == ledger.Pending && o.LastError == "")
}

// down reports whether a channel counts as down.
func (c *Courier) down(channel string) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.pulseOf(channel).down
}
