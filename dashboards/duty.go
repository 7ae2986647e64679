package dashboards

import (
	"net/http"
	"time"

	"heaterd/alerts/notify"
	"heaterd/ingest/reading"
)

// duty is who answers for alarms, as the pages show it.
type duty struct {
	notify.OnCall
}

// Current is the turn in progress; nil without a rota that can be read.
func (d *duty) Current() *notify.Turn {
	if t, ok := d.Now(); ok {
		return &t
	}
	return nil
}

// Next is the turn after that; nil where it is too far away to tell.
func (d *duty) Next() *notify.Turn {
	if len(d.Turns) < 2 {
		return nil
	}
	return &d.Turns[1]
}

// Gap is the first stretch to come in which nobody is on call; nil: none that
// is near.
func (d *duty) Gap() *notify.Turn {
	for i := range d.Turns {
		if i > 0 && d.Turns[i].Name == "" {
			return &d.Turns[i]
		}
	}
	return nil
}

// Clock writes an instant by the clocks of the rota.
func (d *duty) Clock(t time.Time) string { return brief(reading.InstantOf(t), d.Zone) }

// trouble is what everybody has to know of who is on call, wherever they look.
func (d *duty) trouble() []trouble {
	out := d.nobody()
	if !d.Unread && !d.Stale.IsZero() {
		out = append(out, trouble{"The calendar of who is on call cannot be read since " + d.Clock(d.Stale) +
			": what it said before still counts, and changes made since are not known.", clipped(d.Why, 200)})
	}
	return out
}

// nobody says so while nobody is on call, or it is not known who.
func (d *duty) nobody() []trouble {
	switch t := d.Current(); {
	case d.Unread:
		return []trouble{{"It is not known who is on call, for the calendar cannot be read: alarms go to " + d.Fallback + ".", clipped(d.Why, 200)}}
	case t == nil || t.Name != "":
		return nil
	case t.Open:
		return []trouble{{"Nobody is on call: alarms go to " + d.Fallback + ".", ""}}
	default:
		return []trouble{{"Nobody is on call until " + d.Clock(t.To) + ": alarms go to " + d.Fallback + ".", ""}}
	}
}

// dutyAt asks who is on call; nil where nobody can be asked.
func (p *pages) dutyAt(now time.Time) *duty {
	if p.o.OnCall == nil {
		return nil
	}
	return &duty{p.o.OnCall(now)}
}

// jsonDuty is who is on call, for programs. Names only.
type jsonDuty struct {
	Told     bool       `json:"told"` // alarms are told to people at all
	Rota     bool       `json:"rota"` // there is one, and it can be read
	Turns    []jsonTurn `json:"turns"`
	Steps    []jsonStep `json:"steps"`
	Fallback string     `json:"fallback,omitempty"`
	Stale    *time.Time `json:"calendar_unread_since,omitempty"` // what it said before still counts
}

type jsonTurn struct {
	Person *string   `json:"person"` // null: nobody
	From   time.Time `json:"from"`
	To     time.Time `json:"to"` // or later, in the last
}

type jsonStep struct {
	AfterS float64  `json:"after_s"`
	Tell   string   `json:"tell"`
	People []string `json:"people"`
}

// apiOnCall tells who is on call now and in the days to come, and who would
// be told of an alarm that came now.
func (p *pages) apiOnCall(w http.ResponseWriter, _ *http.Request) error {
	out := jsonDuty{Turns: []jsonTurn{}, Steps: []jsonStep{}}
	if d := p.take().duty; d != nil {
		out.Told, out.Rota, out.Fallback = d.Told, d.Rota && !d.Unread, d.Fallback
		if !d.Stale.IsZero() {
			since := d.Stale.UTC()
			out.Stale = &since
		}
		for _, t := range d.Turns {
			turn := jsonTurn{From: t.From.UTC(), To: t.To.UTC()}
			if t.Name != "" {
				turn.Person = &t.Name
			}
			out.Turns = append(out.Turns, turn)
		}
		for _, s := range d.Steps {
			out.Steps = append(out.Steps, jsonStep{s.After.Seconds(), s.Who, notNil(s.Names)})
		}
	}
	writeJSON(w, http.StatusOK, out)
	return nil
}
