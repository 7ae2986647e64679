package rota

import (
	"errors"
	"fmt"
	"strings"
	"time"

	ics "github.com/arran4/golang-ical"
	"github.com/teambition/rrule-go"
)

// moment is one DATE or DATE-TIME.
type moment struct {
	shown    time.Time // as clocks in zone show it, as if it were UTC
	zone     *time.Location
	wholeDay bool
}

func (m moment) at() time.Time { return wall(m.shown, m.zone) }

const (
	dayForm   = "20060102"
	clockForm = "20060102T150405"
)

func (r Reader) moment(p ics.BaseProperty, value string) (moment, error) {
	zone, err := r.zone(p.ICalParameters["TZID"])
	if err != nil {
		return moment{}, err
	}
	value = strings.TrimSpace(value)
	if day, err := time.Parse(dayForm, value); err == nil {
		return moment{day, r.Zone, true}, inRange(day)
	}
	if strings.HasSuffix(value, "Z") {
		value, zone = value[:len(value)-1], time.UTC
	}
	shown, err := time.Parse(clockForm, value)
	if err != nil {
		return moment{}, fmt.Errorf("%q is no time", clipped(value))
	}
	return moment{shown, zone, false}, inRange(shown)
}

func (r Reader) moments(p *ics.IANAProperty) ([]moment, error) {
	var all []moment
	for value := range strings.SplitSeq(p.Value, ",") {
		m, err := r.moment(p.BaseProperty, value)
		if err != nil {
			return nil, err
		}
		all = append(all, m)
	}
	return all, nil
}

func inRange(t time.Time) error {
	if t.Year() < firstYear || t.Year() > lastYear {
		return fmt.Errorf("the year %d is not between %d and %d", t.Year(), firstYear, lastYear)
	}
	return nil
}

func (r Reader) zone(names []string) (*time.Location, error) {
	if len(names) == 0 {
		return r.Zone, nil
	}
	if r.Lookup == nil {
		return nil, errors.New("zones cannot be looked up")
	}
	zone, err := r.Lookup(names[0])
	if err != nil {
		return nil, fmt.Errorf("the zone %q is not in the IANA database", clipped(names[0]))
	}
	return zone, nil
}

func clipped(s string) string {
	if len(s) > 60 {
		return s[:60] + "…"
	}
	return s
}

// duration reads a DURATION: weeks and days are by the clock, the rest by
// elapsed time.
func duration(value string) (days, exact time.Duration, err error) {
	rest, ok := strings.CutPrefix(strings.TrimPrefix(strings.TrimSpace(value), "+"), "P")
	date, clock, _ := strings.Cut(rest, "T")
	days, dayOK := sum(date, map[byte]time.Duration{'W': week * 24 * time.Hour, 'D': 24 * time.Hour})
	exact, clockOK := sum(clock, map[byte]time.Duration{'H': time.Hour, 'M': time.Minute, 'S': time.Second})
	if !ok || rest == "" || !dayOK || !clockOK {
		return 0, 0, fmt.Errorf("DURATION: %q is no length of time", clipped(value))
	}
	return days, exact, nil
}

// sum adds up numbers with units, each at most 99999.
func sum(s string, units map[byte]time.Duration) (total time.Duration, ok bool) {
	n, digits := 0, 0
	for i := range len(s) {
		unit, isUnit := units[s[i]]
		switch {
		case s[i] >= '0' && s[i] <= '9' && digits < 5:
			n, digits = 10*n+int(s[i]-'0'), digits+1
		case isUnit && digits > 0:
			total, n, digits = total+time.Duration(n)*unit, 0, 0
		default:
			return 0, false
		}
	}
	return total, digits == 0
}

// repetition reads RRULE.
func (r Reader) repetition(raw *ics.VEvent, e *event) error {
	rules := raw.GetProperties("RRULE")
	switch {
	case len(raw.GetProperties("EXRULE")) > 0:
		return errors.New("EXRULE is not understood: use EXDATE")
	case len(rules) == 0:
		return nil
	case len(rules) > 1:
		return errors.New("it has several RRULE")
	}
	rule, err := readRule(rules[0].Value, e)
	if err != nil {
		return fmt.Errorf("RRULE: %w", err)
	}
	e.rule = rule
	return nil
}

func readRule(value string, e *event) (*rrule.ROption, error) {
	value = strings.ToUpper(strings.TrimSpace(value))
	if strings.ContainsAny(value, "\r\n") || strings.Contains(value, "DTSTART") {
		return nil, errors.New("it is no rule")
	}
	o, err := rrule.StrToROption(value)
	if err != nil {
		return nil, err
	}
	if err := plain(o); err != nil {
		return nil, err
	}
	o.Dtstart = e.shown
	o.Until = lastStart(value, o.Until, e)
	return o, synchronized(*o)
}

// plain refuses what no rota needs and what could cost without bound.
func plain(o *rrule.ROption) error {
	switch {
	case o.Freq > rrule.DAILY:
		return errors.New("FREQ must be DAILY, WEEKLY, MONTHLY or YEARLY")
	case len(o.Byhour)+len(o.Byminute)+len(o.Bysecond)+len(o.Byeaster)+len(o.Byyearday)+len(o.Byweekno) > 0:
		return errors.New("only BYDAY, BYMONTHDAY, BYMONTH and BYSETPOS are understood")
	case o.Interval < 0 || o.Interval > 1000 || o.Count < 0 || o.Count > 100_000:
		return errors.New("INTERVAL or COUNT is out of range")
	}
	return nil
}

// lastStart turns UNTIL into what clocks in the event's zone show. A date
// includes its whole day.
func lastStart(value string, until time.Time, e *event) time.Time {
	_, after, found := strings.Cut(value, "UNTIL=")
	word, _, _ := strings.Cut(after, ";")
	switch {
	case !found:
		return time.Time{}
	case strings.HasSuffix(word, "Z"):
		return showing(until, e.zone)
	case !strings.Contains(word, "T"):
		return until.Add(24*time.Hour - time.Second)
	default:
		return until
	}
}

// synchronized checks that the rule gives its own first start. RFC 5545
// section 3.8.5.3 leaves undefined what it means otherwise, and a rule that
// never gives anything would be followed for thousands of years.
func synchronized(o rrule.ROption) error {
	if !o.Until.IsZero() && o.Until.Before(o.Dtstart) {
		return errors.New("UNTIL is before DTSTART")
	}
	rule, err := rrule.NewRRule(o)
	if err != nil {
		return err
	}
	if first, ok := rule.Iterator()(); !ok || !first.Equal(o.Dtstart) {
		return errors.New("DTSTART is no day that the rule gives")
	}
	return nil
}
