package notify

import "time"

// oneMorning is how long the same morning message is not sent to the same
// person again. Common practice, no source.
const oneMorning = time.Hour

// morning is what somebody was told waits, and when.
type morning struct {
	at   time.Time
	text string
}

// repeats reports whether a person was just told the same, and notes what they
// are told now. After a long stop the mornings that were missed come due at
// once, and all of them say what waits today.
func (c *Courier) repeats(m Message, now time.Time) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	last := c.said[m.Person]
	if last.text == m.Text && now.Sub(last.at) < oneMorning {
		return true
	}
	c.said[m.Person] = morning{now, m.Text}
	return false
}

// unsaid takes back what did not get through.
func (c *Courier) unsaid(m Message) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.said[m.Person].text == m.Text {
		delete(c.said, m.Person)
	}
}
