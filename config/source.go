package config

import (
	"regexp"
	"strconv"
	"strings"

	"heaterd/ingest/quantity"
	"heaterd/ingest/topic"
)

// Source is one subscription and how its messages are read.
type Source struct {
	Filter    string  // MQTT topic filter
	Format    string  // senml or fields
	NodeLevel int     // 1-based topic level that names the node; 0: the message does
	NodeAt    string  // fields: JSON pointer to the node's name, when NodeLevel is 0
	Fields    []Field // fields: where each quantity stands, in the order of fieldNames
}

// Field is where one quantity stands in a node's own JSON.
type Field struct {
	Name    string  // a SenML record name of the contract, or time
	Pointer string  // RFC 6901
	Unit    string  // as sent
	Scale   float64 // what the value is multiplied with; default 1
}

// defaultTopics are the contract's.
const (
	defaultFilter = "sites/+/nodes/+/telemetry"
	defaultLevel  = 4
)

// maxPointer bounds a JSON pointer, bytes.
const maxPointer = 256

func defaultSources() []Source {
	return []Source{{Filter: defaultFilter, Format: "senml", NodeLevel: defaultLevel}}
}

func readSources(v value) []Source {
	if !v.given() {
		return defaultSources()
	}
	var sources []Source
	filters := names{}
	for _, item := range v.some("sources, each {filter, format, node}", "at least one source, or the key left out") {
		t := item.table()
		filter := t.need("filter", "an MQTT topic filter such as "+defaultFilter)
		s := Source{Filter: filter.filter(), Format: t.get("format").oneOf("senml", "senml", "fields")}
		filters.claim(filter, "filter", s.Filter)
		readNode(t, &s)
		s.Fields = readFields(t.get("fields").table())
		checkFields(t, s)
		t.close()
		sources = append(sources, s)
	}
	return sources
}

// filter gives an MQTT topic filter.
func (v value) filter() string {
	const allowed = "topic levels between slashes; + alone in a level, # alone in the last"
	s := v.expanded()
	if s == "" {
		return ""
	}
	if err := topic.ValidFilter(s); err != nil {
		v.fail(allowed, "%s", clip(err.Error()))
		return ""
	}
	return s
}

var topicNode = regexp.MustCompile(`^topic:([1-9][0-9]?)$`)

// readNode says where the node's name is found.
func readNode(t *table, s *Source) {
	const allowed = "topic:N (the N-th topic level, from 1), senml, or for format fields a JSON pointer such as /device/id"
	v := t.get("node")
	word := v.line("")
	switch m := topicNode.FindStringSubmatch(word); {
	case word == "" && !v.given():
		if s.Format == "fields" {
			t.need("node", allowed)
		}
	case m != nil:
		s.NodeLevel, _ = strconv.Atoi(m[1])
		checkLevel(v, s)
	case word == "senml" && s.Format == "senml":
	case strings.HasPrefix(word, "/") && s.Format == "fields":
		s.NodeAt = v.pointer()
	default:
		v.fail(allowed, "found %q", clip(word))
	}
}

func checkLevel(v value, s *Source) {
	levels := strings.Split(s.Filter, "/")
	if open := levels[len(levels)-1] == "#"; s.Filter != "" && s.NodeLevel > len(levels) && !open {
		v.fail(span{1, float64(len(levels)), ""}.String(), "the filter has no topic level %d", s.NodeLevel)
		return
	}
	if s.Filter != "" && s.NodeLevel <= len(levels) && !strings.ContainsAny(levels[s.NodeLevel-1], "+#") {
		v.warn("the level of a +", "level %d of the filter is always %q, so every message is from one node",
			s.NodeLevel, levels[s.NodeLevel-1])
	}
}

// timeUnits are the ways a node may write when it measured.
var timeUnits = []string{"s", "ms", "rfc3339"}

func readFields(t *table) []Field {
	var fields []Field
	for _, name := range append([]string{"time"}, quantity.Names()...) {
		v := t.get(name)
		if field := readField(v.table(), name); v.given() {
			fields = append(fields, field)
		}
	}
	t.close()
	return fields
}

func readField(t *table, name string) Field {
	f := Field{Name: name, Pointer: t.need("pointer", "a JSON pointer such as /sensors/co").pointer(), Scale: 1}
	if units := unitsOf(name); len(units) > 0 {
		f.Unit = t.get("unit").oneOf(units[0], units...)
		f.Scale = t.get("scale").number(1, span{1e-9, 1e9, ""})
	}
	t.close()
	return f
}

// unitsOf gives the units a field may come in, the usual one first; none for
// a yes-or-no value.
func unitsOf(name string) []string {
	spec := quantity.Named(name)
	if spec == nil {
		return timeUnits
	}
	var units []string
	for _, u := range spec.Units {
		units = append(units, u.Name)
	}
	return units
}

// pointer gives an RFC 6901 pointer.
func (v value) pointer() string {
	s := v.line("")
	bad := strings.ReplaceAll(strings.ReplaceAll(s, "~0", ""), "~1", "")
	if s != "" && (s[0] != '/' || len(s) > maxPointer || strings.Contains(bad, "~")) {
		v.fail("a JSON pointer (RFC 6901) such as /sensors/co", "found %q", clip(s))
		return ""
	}
	return s
}

func checkFields(t *table, s Source) {
	switch {
	case s.Format == "fields" && !t.has("fields"):
		t.need("fields", "a table that says where each quantity stands")
	case s.Format == "senml" && t.has("fields"):
		t.get("fields").fail("format: fields as well", "fields in a source of format senml")
	case s.Format == "fields" && t.get("fields").given() && len(s.Fields) == 0:
		t.get("fields").fail("at least one of flame, runtime, co, temp, …", "found no quantity")
	}
}
