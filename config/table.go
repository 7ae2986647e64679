package config

import (
	"slices"
	"strings"

	"gopkg.in/yaml.v3"

	"heaterd/ingest/nearest"
)

// table is a mapping being read. Every key asked for is a known one; close
// complains about the rest.
type table struct {
	value
	wrong   value // what stands in place of a table, if something does
	entries map[string]value
	order   []string
	keys    map[string]*yaml.Node
	known   []string
}

// table gives the keys of a mapping. One that was left out, or is something
// else, reads as if it had no keys.
func (v value) table() *table {
	t := &table{value: v, entries: map[string]value{}, keys: map[string]*yaml.Node{}}
	if !v.given() {
		return t
	}
	if v.node.Kind != yaml.MappingNode {
		t.wrong, t.node = v, nil
		return t
	}
	for i := 0; i+1 < len(v.node.Content); i += 2 {
		t.add(v.node.Content[i], v.node.Content[i+1])
	}
	return t
}

func (t *table) add(key, node *yaml.Node) {
	entry := value{r: t.r, node: node, at: node, path: joinPath(t.path, key.Value), kind: joinPath(t.kind, key.Value)}
	place := value{r: t.r, node: key, at: key, path: entry.path}
	switch first, twice := t.keys[key.Value]; {
	case key.Kind != yaml.ScalarNode:
		place.path = t.path
		place.fail("a word", "a key that is %s", describe(key))
		return
	case key.Tag == "!!merge":
		place.path = t.path
		place.fail("the keys written out", "the merge key << is not read")
		return
	case twice:
		place.fail("each key once", "written again; first at line %d", first.Line)
		return
	}
	t.keys[key.Value] = key
	t.order = append(t.order, key.Value)
	t.entries[key.Value] = entry.resolve()
}

func joinPath(path, key string) string {
	if path == "" {
		return clip(key)
	}
	return path + "." + clip(key)
}

// get gives the value of a key, absent when it was left out.
func (t *table) get(key string) value {
	return t.find(key, "a value, or the key left out")
}

// find is get. A key with nothing after it is a mistake more often than a
// wish for the default.
func (t *table) find(key, allowed string) value {
	if !slices.Contains(t.known, key) {
		t.known = append(t.known, key)
		t.r.asked[joinPath(t.kind, key)] = true
	}
	v, found := t.entries[key]
	if !found {
		return value{r: t.r, at: t.at, path: joinPath(t.path, key), kind: joinPath(t.kind, key)}
	}
	if v.given() && v.node.Kind == yaml.ScalarNode && v.node.ShortTag() == "!!null" {
		v.at = t.keys[key]
		v.fail(allowed, "nothing after the key")
		v.node = nil
		t.entries[key] = v // so that it is said once
	}
	return v
}

// has reports whether the key was written, whatever stands after it.
func (t *table) has(key string) bool { return t.keys[key] != nil }

// need is get for a key that may not be left out.
func (t *table) need(key, allowed string) value {
	v := t.find(key, allowed)
	if t.given() && !t.has(key) {
		v.fail(allowed, "missing")
	}
	return v
}

// secretKeys are keys people write a secret under, with the keys that may
// stand in their place.
var secretKeys = map[string][]string{
	"password": {"password_file", "password_bcrypt"},
	"secret":   {"secret_file"},
	"token":    {"token_file", "sha256"},
}

// instead gives the key to use in place of one that would hold a secret.
func (t *table) instead(key string) string {
	for _, other := range secretKeys[key] {
		if slices.Contains(t.known, other) {
			return other
		}
	}
	return ""
}

// close complains about every key that was not asked for, and about what is
// no table.
func (t *table) close() {
	if t.wrong.given() {
		t.wrong.wrongType("a table of keys: " + strings.Join(slices.Sorted(slices.Values(t.known)), ", "))
		return
	}
	for _, key := range t.order {
		if slices.Contains(t.known, key) {
			continue
		}
		place := value{r: t.r, at: t.keys[key], path: joinPath(t.path, key)}
		if other := t.instead(key); other != "" {
			place.fail(other, "secrets are not kept in this file")
			continue
		}
		t.r.strangers = append(t.r.strangers, stranger{place, key, slices.Sorted(slices.Values(t.known))})
	}
}

// stranger is a key that its table does not know.
type stranger struct {
	value
	key   string
	known []string
}

// tellStrangers complains about the unknown keys, once all known ones were
// asked for: one that another table knows stands at the wrong indentation.
func (r *reader) tellStrangers() {
	for _, s := range r.strangers {
		if len(r.problems) > maxSaid {
			return
		}
		allowed := strings.Join(s.known, ", ")
		if near := nearest.Word(s.key, s.known); near != "" {
			s.fail(allowed, "unknown key; did you mean %s?", near)
		} else if home := r.homeOf(s.key); home != "" {
			s.fail(allowed, "unknown key here, but a known one %s: look at the indentation", home)
		} else {
			s.fail(allowed, "unknown key")
		}
	}
}

// homeOf says where the only table is that knows a key; empty where none or
// several do.
func (r *reader) homeOf(key string) string {
	var homes []string
	for kind := range r.asked {
		if kind == key {
			homes = append(homes, "at the left margin")
		} else if table, found := strings.CutSuffix(kind, "."+key); found {
			homes = append(homes, "under "+strings.ReplaceAll(table, "[]", ""))
		}
	}
	if len(homes) != 1 {
		return ""
	}
	return homes[0]
}
