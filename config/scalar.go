package config

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"gopkg.in/yaml.v3"

	"heaterd/ingest/nearest"
	"heaterd/ingest/topic"
)

// span is an inclusive range with its unit, for numbers.
type span struct {
	low, high float64
	unit      string
}

func (s span) String() string {
	return strings.TrimSpace(fmt.Sprintf("%s to %s %s", plainNumber(s.low), plainNumber(s.high), s.unit))
}

func plainNumber(f float64) string { return strconv.FormatFloat(f, 'f', -1, 64) }

// scalar gives the words of a single value. wanted says what it must be.
func (v value) scalar(wanted string, tags ...string) (string, bool) {
	if !v.given() {
		return "", false
	}
	if v.node.Kind != yaml.ScalarNode || !slices.Contains(tags, v.node.ShortTag()) {
		v.wrongType(wanted)
		return "", false
	}
	return v.node.Value, true
}

// text gives a text that is not empty, or fallback when it was left out.
func (v value) text(fallback string) string {
	s, ok := v.scalar("text (in quotes if it looks like a number)", "!!str")
	switch {
	case !ok:
		return fallback
	case strings.TrimSpace(s) == "":
		v.fail("some text, or the key left out", "found an empty text")
		return fallback
	}
	return s
}

// line is text without line breaks or other control characters, and without
// those that turn the direction of what is written after it.
func (v value) line(fallback string) string {
	s := v.text(fallback)
	switch {
	case strings.ContainsFunc(s, unicode.IsControl):
		v.fail("one line of text", "found a line break or control character in %q", clip(s))
		return fallback
	case strings.ContainsFunc(s, topic.Turns):
		v.fail("one line of text; one from right to left needs no such character, for it is kept to itself where it is shown", "found a character that turns the direction of text in %+q", clip(s))
		return fallback
	}
	return s
}

// number gives a number within s, or fallback when it was left out.
func (v value) number(fallback float64, s span) float64 {
	raw, ok := v.scalar(v.numeral()+s.String(), "!!int", "!!float")
	if !ok {
		return fallback
	}
	var f float64
	if err := v.node.Decode(&f); err != nil || math.IsNaN(f) || f < s.low || f > s.high {
		v.fail(s.String(), "found %s", clip(raw))
		return fallback
	}
	return f
}

var leadingNumber = regexp.MustCompile(`^[-+]?[0-9]+(,[0-9]+)?(\.[0-9]+)?`)

// numeral says what a number is written like, in view of what stands there.
func (v value) numeral() string {
	if !v.given() || v.node.Kind != yaml.ScalarNode || v.node.ShortTag() != "!!str" {
		return "a number, "
	}
	switch found := leadingNumber.FindString(v.node.Value); {
	case found == "":
		return "a number, "
	case strings.Contains(found, ","):
		return "a number without a comma, such as 4.5 or 1200, "
	case found == strings.TrimSpace(v.node.Value):
		return "a number without quotes, "
	}
	return "the number alone, without a unit, "
}

// optional is number for a value whose absence means something else than any
// number.
func (v value) optional(s span) *float64 {
	if !v.given() {
		return nil
	}
	before := len(v.r.problems)
	f := v.number(0, s)
	if len(v.r.problems) > before {
		return nil
	}
	return &f
}

// whole gives a whole number within s, or fallback when it was left out.
func (v value) whole(fallback int, s span) int {
	raw, ok := v.scalar("a whole number, "+s.String(), "!!int")
	if !ok {
		return fallback
	}
	var n int
	if err := v.node.Decode(&n); err != nil || float64(n) < s.low || float64(n) > s.high {
		v.fail(s.String(), "found %s", clip(raw))
		return fallback
	}
	return n
}

// flag gives true or false.
func (v value) flag() bool {
	raw, ok := v.scalar("true or false", "!!bool")
	return ok && strings.EqualFold(raw, "true")
}

// duration gives a length of time within [low, high].
func (v value) duration(fallback, low, high time.Duration) time.Duration {
	allowed := fmt.Sprintf("%s to %s, written like 90s, 10m or 168h", short(low), short(high))
	raw, ok := v.scalar(allowed, "!!str")
	if !ok {
		return fallback
	}
	d, err := time.ParseDuration(raw)
	if err != nil || d < low || d > high {
		v.fail(allowed, "found %q", clip(raw))
		return fallback
	}
	return d
}

// short writes a duration without its zero parts.
func short(d time.Duration) string {
	s := d.String()
	if strings.HasSuffix(s, "m0s") {
		s = strings.TrimSuffix(s, "0s")
	}
	if strings.HasSuffix(s, "h0m") {
		s = strings.TrimSuffix(s, "0m")
	}
	return s
}

// clock gives a wall-clock time of day.
func (v value) clock(fallback time.Duration) time.Duration {
	const allowed = `a time of day from "00:00" to "23:59"`
	raw, ok := v.scalar(allowed, "!!str")
	if !ok {
		return fallback
	}
	t, err := time.Parse("15:04", raw)
	if err != nil || len(raw) != len("15:04") {
		v.fail(allowed, "found %q", clip(raw))
		return fallback
	}
	return time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute
}

// date gives a day as YYYY-MM-DD.
func (v value) date() string {
	const allowed = "a date written YYYY-MM-DD"
	raw, ok := v.scalar(allowed, "!!str", "!!timestamp")
	if !ok {
		return ""
	}
	if _, err := time.Parse(time.DateOnly, raw); err != nil {
		v.fail(allowed, "found %q", clip(raw))
		return ""
	}
	return raw
}

// instant gives a point in time: RFC 3339 with its offset, or a date and
// time in zone.
func (v value) instant(zone *time.Location) time.Time {
	const allowed = "a time written 2026-01-05T08:00:00Z, or 2026-01-05 08:00 in the rota's zone"
	raw, ok := v.scalar(allowed, "!!str", "!!timestamp")
	if !ok {
		return time.Time{}
	}
	for _, layout := range []string{time.RFC3339, "2006-01-02 15:04", "2006-01-02T15:04", time.DateOnly} {
		if t, err := time.ParseInLocation(layout, raw, zone); err == nil {
			return t
		}
	}
	v.fail(allowed, "found %q", clip(raw))
	return time.Time{}
}

// oneOf gives a word of a closed list, or fallback when it was left out.
func (v value) oneOf(fallback string, words ...string) string {
	return v.pick(strings.Join(words, ", "), fallback, words)
}

// pick is oneOf where something else is allowed as well.
func (v value) pick(allowed, fallback string, words []string) string {
	raw, ok := v.scalar(allowed, "!!str")
	switch {
	case !ok:
		return fallback
	case slices.Contains(words, raw):
		return raw
	}
	if near := nearest.Word(raw, words); near != "" {
		v.fail(allowed, "found %q; did you mean %s?", clip(raw), near)
	} else {
		v.fail(allowed, "found %q", clip(raw))
	}
	return fallback
}

// zone gives a time zone by its IANA name.
func (v value) zone(fallback *time.Location) *time.Location {
	const allowed = "an IANA time zone name such as Europe/Dublin or America/Chicago"
	raw, ok := v.scalar(allowed, "!!str")
	if !ok {
		return fallback
	}
	loc, err := time.LoadLocation(raw)
	if err == nil && raw != "" && raw != "Local" {
		return loc
	}
	if near := nearestZone(raw); near != "" {
		v.fail(allowed, "found %q; did you mean %s?", clip(raw), near)
	} else {
		v.fail(allowed, "found %q", clip(raw))
	}
	return fallback
}

// continents begin the names of time zones.
var continents = []string{"Europe/", "America/", "Asia/", "Africa/", "Australia/", "Pacific/", "Atlantic/", "Indian/"}

// nearestZone finds the zone that somebody meant who wrote it in other
// letters, with a space, or without its continent.
func nearestZone(raw string) string {
	words := strings.FieldsFunc(strings.ToLower(clip(raw)), func(r rune) bool { return r == ' ' || r == '_' })
	name := []rune(strings.Join(words, "_"))
	for i := range name {
		if i == 0 || strings.ContainsRune("/_-", name[i-1]) {
			name[i] = unicode.ToUpper(name[i])
		}
	}
	for _, before := range append([]string{""}, continents...) {
		if zone := before + string(name); len(name) > 3 && zone != raw {
			if _, err := time.LoadLocation(zone); err == nil {
				return zone
			}
		}
	}
	return ""
}

// texts gives a list of one-line texts.
func (v value) texts() []string {
	var out []string
	for _, item := range v.list("texts") {
		if s := item.line(""); s != "" {
			out = append(out, s)
		}
	}
	return out
}
