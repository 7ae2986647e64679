package dashboards

import (
	"context"
	"encoding/json"
	"sync"
	"time"

	"heaterd/ingest/record"
)

// sameWithin is how soon after an entry the same one about the same heater is
// a button pressed again, as on a slow telephone, and no other work. Common
// practice, no source.
const sameWithin = 30 * time.Second

// pressed is the last entry of each heater that came by a form.
type pressed struct {
	mu   sync.Mutex
	last map[string]press
}

type press struct {
	at    time.Time
	entry string
}

// writeOnce keeps an entry that came by a form, a button pressed twice once:
// two refuels would put fuel in the tank that is not there.
func (p *pages) writeOnce(ctx context.Context, e *record.Entry) error {
	raw, err := json.Marshal(e)
	if err != nil {
		return err
	}
	p.pressed.mu.Lock()
	defer p.pressed.mu.Unlock()
	now := press{p.o.Now(), string(raw)}
	if before := p.pressed.last[e.Heater]; before.entry == now.entry && now.at.Sub(before.at) < sameWithin {
		return nil
	}
	if err := p.write(ctx, record.Line{Entry: e}); err != nil {
		return err
	}
	if p.pressed.last == nil {
		p.pressed.last = map[string]press{}
	}
	p.pressed.last[e.Heater] = now
	return nil
}

// forgetPress lets the entry of a heater be written again: the last one was
// withdrawn.
func (p *pages) forgetPress(heater string) {
	p.pressed.mu.Lock()
	defer p.pressed.mu.Unlock()
	delete(p.pressed.last, heater)
}
