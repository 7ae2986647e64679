package broker

import (
	"slices"
	"testing"
)

func TestSubjects(t *testing.T) {
	for filter, want := range map[string][]string{
		"sites/+/nodes/n-1/telemetry": {"sites.*.nodes.n-1.telemetry"},
		"sites/quay/#":                {"sites.quay.>", "sites.quay"},
		"#":                           {">"},
		"a.b/c":                       {"a//b.c"},
	} {
		if got := subjects([]string{filter}); !slices.Equal(got, want) {
			t.Errorf("%s: %q, want %q", filter, got, want)
		}
	}
	if got := subjects(nil); len(got) != 1 || got[0] != noSubject {
		t.Errorf("no filters allow %q", got)
	}
}
