package access

import (
	"time"

	"golang.org/x/time/rate"
)

// How often attempts that failed are told of in the log; common practice, no
// source. Those between two words are counted.
const (
	wordEvery = time.Minute
	wordBurst = 20
)

func newWords() *rate.Limiter { return rate.NewLimiter(rate.Every(wordEvery), wordBurst) }

// failed writes down that somebody was not let in. What was sent stays out of
// the log, and so does a name that is no user's: people type passwords there.
func (g *Gate) failed(from, by, why, name string) {
	if g.o.Log == nil {
		return
	}
	if !g.words.AllowN(g.o.Now(), 1) {
		g.untold.Add(1)
		return
	}
	if _, ok := g.user(name); !ok {
		name = ""
	}
	g.o.Log.Warn("an attempt to sign in failed", "from", from, "by", by, "why", why, "user", name, "untold_before", g.untold.Swap(0))
}
