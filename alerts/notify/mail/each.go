package mail

import (
	"context"
	"errors"
	"slices"
	"sync"

	gomail "github.com/wneessen/go-mail"

	"heaterd/alerts/notify"
)

// remembered is of how many messages a Sender knows at most who had them: of
// more at a time somebody has one twice. Common practice, no source.
const remembered = 1000

// taken remembers who had a message that others are still to have.
type taken struct {
	mu  sync.Mutex
	had map[string][]string // addresses by the message's id
}

// left leaves out those who had the message.
func (t *taken) left(id string, to []string) []string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return slices.DeleteFunc(slices.Clone(to), func(a string) bool { return slices.Contains(t.had[id], a) })
}

func (t *taken) note(id, to string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.had == nil || len(t.had) >= remembered && t.had[id] == nil {
		t.had = map[string][]string{}
	}
	t.had[id] = append(t.had[id], to)
}

func (t *taken) forget(id string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	delete(t.had, id)
}

// refusesSome reports whether the server would not take the message for one of
// several addresses; then nobody has it.
func refusesSome(err error) bool {
	e, ok := errors.AsType[*gomail.SendError](err)
	return ok && e.Reason == gomail.ErrSMTPRcptTo
}

// each sends the message to one address after the other, so that one that is
// refused keeps it from nobody else. What is worth another attempt makes the
// whole worth one.
func (s *Sender) each(ctx context.Context, m notify.Message, to []string) error {
	var refused, failed []error
	for _, one := range to {
		switch err := s.post(ctx, m, []string{one}); {
		case err == nil:
			s.taken.note(m.ID, one)
		case notify.IsPermanent(err):
			refused = append(refused, err)
		default:
			failed = append(failed, err)
		}
	}
	if len(failed) > 0 {
		return errors.Join(failed...)
	}
	s.taken.forget(m.ID)
	if len(refused) > 0 {
		return notify.Permanent(errors.Join(refused...))
	}
	return nil
}
