package config

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"heaterd/ingest/fields"
	"heaterd/ingest/quantity"
	"heaterd/ingest/source"
	"heaterd/ingest/topic"
)

const (
	maxPointer = 256            // bytes of a JSON pointer
	maxWithin  = 24 * time.Hour // between two messages of a node
)

// scaleRange is wide enough for any unit a node may count in.
var scaleRange = span{-1e9, 1e9, ""}

func readSources(v value) source.Sources {
	if !v.given() {
		return source.Defaults()
	}
	var sources source.Sources
	filters := names{}
	for _, item := range v.some("sources, each {filter, format, node}", "at least one source, or the key left out") {
		t := item.table()
		s := readSource(t)
		filters.claim(t.get("filter"), "filter", s.Filter)
		t.close()
		sources = append(sources, s)
	}
	return withStatus(sources)
}

func readSource(t *table) source.Source {
	before := len(t.r.problems)
	s := source.Source{
		Filter: t.need("filter", "an MQTT topic filter such as sites/+/nodes/+/telemetry").filter(),
		Format: source.Format(t.get("format").oneOf(string(source.SenML),
			string(source.SenML), string(source.Fields), string(source.Status))),
	}
	s.Node = readNode(t, s)
	s.Site = readSiteLevel(t.get("site"), s.Filter)
	mapping := readMapping(t.get("fields").table())
	switch {
	case s.Format == source.Fields:
		t.need("fields", "a table that says where each quantity stands")
		s.Mapping = mapping
	case t.has("fields"):
		t.get("fields").fail("format: fields as well", "fields in a source of format %s", s.Format)
	}
	if len(t.r.problems) == before {
		checkSource(t, s)
	}
	return s
}

// checkSource asks the decoders' own rules.
func checkSource(t *table, s source.Source) {
	if s.Mapping != nil {
		if err := s.Mapping.Compile(); err != nil {
			t.get("fields").fail("", "%s", strings.ReplaceAll(err.Error(), "\n", "; "))
		}
	}
	if err := s.Check(); err != nil {
		t.get("node").fail("topic:N with N from 1 to the levels of the filter", "%s", err)
		return
	}
	levels := strings.Split(s.Filter, "/")
	if n := int(s.Node); n > 0 && n <= len(levels) && !strings.ContainsAny(levels[n-1], "+#") {
		t.get("node").warn("the level of a +", "level %d of the filter is always %q, so every message is from one node", n, levels[n-1])
	}
}

// withStatus adds the topics on which nodes say that they are online, as the
// telemetry contract pairs them, where no source reads a status.
func withStatus(sources source.Sources) source.Sources {
	if slices.ContainsFunc(sources, func(s source.Source) bool { return s.Format == source.Status }) {
		return sources
	}
	for _, s := range slices.Clone(sources) {
		if stem, ok := strings.CutSuffix(s.Filter, "/telemetry"); ok && s.Node > 0 && int(s.Node) < topic.Levels(s.Filter) {
			sources = append(sources, source.Source{Filter: stem + "/status", Format: source.Status, Node: s.Node, Site: s.Site})
		}
	}
	return sources
}

// filter gives an MQTT topic filter.
func (v value) filter() string {
	const allowed = "topic levels between slashes; + alone in a level, # alone in the last"
	s := v.line("")
	if s == "" {
		return ""
	}
	if err := topic.ValidFilter(s); err != nil {
		v.fail(allowed, "%s", err)
		return ""
	}
	return s
}

var topicLevel = regexp.MustCompile(`^topic:([1-9][0-9]{0,2})$`)

// readNode says where the node's name is found.
func readNode(t *table, s source.Source) source.NodeFrom {
	allowed := "topic:N, the N-th topic level from 1"
	if s.Format == source.SenML {
		allowed += ", or senml"
	} else {
		t.need("node", allowed)
	}
	v := t.get("node")
	word, ok := v.scalar(allowed, "!!str")
	switch m := topicLevel.FindStringSubmatch(word); {
	case !ok || word == string(source.SenML) && s.Format == source.SenML:
	case m != nil:
		n, _ := strconv.Atoi(m[1])
		return source.NodeFrom(n)
	default:
		v.fail(allowed, "found %q", clip(word))
	}
	return source.FromPack
}

// readSiteLevel says where the site's id is found, 0 where nothing is given.
func readSiteLevel(v value, filter string) int {
	if !v.given() {
		return 0
	}
	const allowed = "topic:N, the N-th level of the filter from 1"
	word, ok := v.scalar(allowed, "!!str")
	if !ok {
		return 0
	}
	if m := topicLevel.FindStringSubmatch(word); m != nil {
		if n, _ := strconv.Atoi(m[1]); n <= topic.Levels(filter) {
			return n
		}
	}
	v.fail(allowed, "found %q", clip(word))
	return 0
}

func readMapping(t *table) *fields.Mapping {
	m := &fields.Mapping{Within: t.get("within").duration(0, 0, maxWithin)}
	at := t.get("time").table()
	m.Time.Pointer = at.need("pointer", "a JSON pointer such as /ts").pointer()
	if unit := at.need("unit", "s, ms, rfc3339").oneOf("", fields.Seconds, fields.Milliseconds, fields.RFC3339); at.given() {
		m.Time.Unit = unit
	}
	at.close()
	for _, name := range quantity.Names() {
		v := t.get(name)
		if field := readField(v.table(), quantity.Named(name)); v.given() {
			m.Fields = append(m.Fields, field)
		}
	}
	t.close()
	if t.given() && len(m.Fields) == 0 {
		t.fail("at least one of "+strings.Join(quantity.Names(), ", "), "found no quantity")
	}
	return m
}

// readField reads where one quantity stands; a yes-or-no value has no unit.
func readField(t *table, spec *quantity.Spec) fields.Field {
	defer t.close()
	f := fields.Field{Quantity: spec.Name, Pointer: t.need("pointer", "a JSON pointer such as /sensors/co").pointer()}
	if spec.Bool {
		return f
	}
	var units []string
	for _, u := range spec.Units {
		units = append(units, u.Name)
	}
	if spec.Assumed == "" {
		t.need("unit", strings.Join(units, ", "))
	}
	f.Unit = t.get("unit").oneOf(spec.Assumed, units...)
	f.Scale = t.get("scale").number(1, scaleRange)
	f.Offset = t.get("offset").number(0, scaleRange)
	if f.Scale == 0 {
		t.get("scale").fail("any number but 0", "found 0, which makes every value the same")
	}
	return f
}

// pointer gives an RFC 6901 pointer.
func (v value) pointer() string {
	s := v.line("")
	rest := strings.NewReplacer("~0", "", "~1", "").Replace(s)
	if s != "" && (s[0] != '/' || len(s) > maxPointer || strings.Contains(rest, "~")) {
		v.fail("a JSON pointer (RFC 6901) such as /sensors/co", "found %q", clip(s))
		return ""
	}
	return s
}
