package notify

import (
	"errors"
	"fmt"
	"time"

	"heaterd/alerts/notify/rota"
)

// NewRota makes the rota of the settings, with the body of its calendar where
// it has one. strangers are events of the calendar that name nobody known:
// they count for nothing.
func NewRota(s Settings, calendar []byte) (r *rota.Rota, strangers []string, err error) {
	terms := rota.Terms{
		Zone: s.Rota.Zone, Turns: s.Rota.Turns, Begins: s.Rota.Begins, HandOver: s.Rota.HandOver,
		Overrides: s.Rota.Overrides, Holidays: s.Rota.Holidays,
	}
	if s.Rota.Calendar != "" {
		if terms.Calendar, err = readCalendar(s, calendar); err != nil {
			return nil, nil, err
		}
		strangers = terms.Calendar.Strangers()
	}
	r, err = rota.New(terms)
	return r, strangers, err
}

func readCalendar(s Settings, body []byte) (*rota.Calendar, error) {
	if len(body) == 0 {
		return nil, errors.New("the calendar is empty")
	}
	reader := rota.Reader{Zone: s.Rota.Zone, Lookup: time.LoadLocation}
	for _, p := range s.People {
		reader.People = append(reader.People, rota.Person{ID: p.ID, Name: p.Name, Address: p.Address})
		for _, c := range s.Channels {
			if a := p.Addresses[c.ID]; a != "" {
				reader.People = append(reader.People, rota.Person{ID: p.ID, Name: p.Name, Address: a})
			}
		}
	}
	c, err := reader.Read(body)
	if err != nil {
		return nil, fmt.Errorf("cannot use %s: %w", s.Rota.Calendar, err)
	}
	return c, nil
}
