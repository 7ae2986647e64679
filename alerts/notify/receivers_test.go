package notify_test

import (
	"context"
	"slices"
	"sync"
	"time"

	"heaterd/alerts/notify"
)

// receivers keep what arrived, and answer as they are told to.
type receivers struct {
	mu     sync.Mutex
	got    []arrival
	down   []string
	answer func(m notify.Message) error
}

type arrival struct {
	at time.Time
	notify.Message
}

func (r *receivers) Send(ctx context.Context, m notify.Message) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.answer != nil {
		if err := r.answer(m); err != nil {
			return err
		}
	}
	r.got = append(r.got, arrival{time.Now(), m})
	return nil
}

func (r *receivers) say(channel string, down bool, why string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	word := " up"
	if down {
		word = " down: " + why
	}
	r.down = append(r.down, channel+word)
}

// listing writes what arrived since the start: when, kind, who, by what.
func (r *receivers) listing(start time.Time) []string {
	r.mu.Lock()
	defer r.mu.Unlock()
	var out []string
	for _, a := range r.got {
		out = append(out, a.at.Sub(start).Truncate(2*time.Second).String()+" "+string(a.Kind)+" "+a.Person+">"+a.Channel)
	}
	slices.Sort(out)
	return out
}

// arrivals is what arrived so far, news what was said of channels.
func (r *receivers) arrivals() []arrival {
	r.mu.Lock()
	defer r.mu.Unlock()
	return slices.Clone(r.got)
}

func (r *receivers) news() []string {
	r.mu.Lock()
	defer r.mu.Unlock()
	return slices.Clone(r.down)
}

// counted reads a count that answers keep.
func (r *receivers) counted(n *int) int {
	r.mu.Lock()
	defer r.mu.Unlock()
	return *n
}

// answers changes how it answers.
func (r *receivers) answers(as func(notify.Message) error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.answer = as
}
