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
	mu sync.Mutex // guards of
	of map[string]*press
}

// press is the last entry of one heater. Its lock is held until that is on
// disk, so that whoever presses twice waits, and nobody else does.
type press struct {
	mu    sync.Mutex // guards what follows
	at    time.Time
	entry string
}

func (p *pressed) heater(id string) *press {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.of == nil {
		p.of = map[string]*press{}
	}
	if p.of[id] == nil {
		p.of[id] = &press{}
	}
	return p.of[id]
}

// writeOnce keeps an entry that came by a form, a button pressed twice once:
// two refuels would put fuel in the tank that is not there.
func (p *pages) writeOnce(ctx context.Context, e *record.Entry) error {
	raw, err := json.Marshal(e)
	if err != nil {
		return err
	}
	last, now := p.pressed.heater(e.Heater), p.o.Now()
	last.mu.Lock()
	defer last.mu.Unlock()
	if last.entry == string(raw) && now.Sub(last.at) < sameWithin {
		return nil
	}
	if err := p.write(ctx, record.Line{Entry: e}); err != nil {
		return err
	}
	last.at, last.entry = now, string(raw)
	return nil
}

// forgetPress lets the entry of a heater be written again: the last one was
// withdrawn.
func (p *pages) forgetPress(heater string) {
	last := p.pressed.heater(heater)
	last.mu.Lock()
	defer last.mu.Unlock()
	last.entry = ""
}
