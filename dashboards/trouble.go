package dashboards

import "errors"

// ErrNobodyReached is what the check "channels" holds where none works by which
// somebody on call is told.
var ErrNobodyReached = errors.New("nobody on call is reached by any channel")

// trouble is what keeps the whole of heaterd from its work. Every page says so:
// a quiet page of a daemon that hears nothing looks like a quiet fleet.
type trouble struct{ What, Why string }

// troubleWords say what a failing check means to somebody who looks at the
// pages; the others concern whoever runs the machine.
var troubleWords = map[string]string{
	"broker":       "No connection to the broker: no heater is watched, and what stands here is what was heard before.",
	"store":        "Readings cannot be kept: what comes in now may be lost, and alarms may be missed.",
	"alarm engine": "The alarm engine is behind: what stands here is old, and alarms may be missed.",
	"outbox":       "Messages about alarms cannot go out: watch this page, and call by telephone.",
	"channels":     "A channel for messages about alarms does not work: others are used where there are any.",
}

// mute stands in place of the words for one channel.
const mute = "No message about an alarm gets through to anybody on call: watch this page, and call them and the site by telephone."

// meaning is what a failing check means; empty where it is of no concern here.
func (c Check) meaning() string {
	if c.Name == "channels" && errors.Is(c.Err, ErrNobodyReached) {
		return mute
	}
	return troubleWords[c.Name]
}

func (p *pages) troubles() []trouble {
	var out []trouble
	if d := p.take().duty; d != nil {
		out = d.trouble()
	}
	if p.o.Checks == nil {
		return out
	}
	for _, c := range p.o.Checks() {
		if what := c.meaning(); what != "" && c.Err != nil {
			out = append(out, trouble{what, clipped(c.Err.Error(), 200)})
		}
	}
	return out
}
