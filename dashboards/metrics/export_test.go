package metrics

import (
	"slices"
	"strings"
)

// Family describes one metric of the page.
type Family struct {
	Name   string
	Help   string
	Type   string   // counter, gauge or histogram
	Labels []string // sorted
}

// Families lists the daemon's own metrics in the order of the page, those of
// the Go runtime and the process left out.
func Families() []Family {
	list := make([]Family, 0, familyCount+1)
	for _, f := range families {
		kind := "gauge"
		if f.kind == counter {
			kind = "counter"
		}
		list = append(list, Family{Name: f.name, Help: f.help, Type: kind, Labels: f.labels})
	}
	list = append(list, Family{Name: commitSecondsName, Help: commitSecondsHelp, Type: "histogram"})
	slices.SortFunc(list, func(a, b Family) int { return strings.Compare(a.Name, b.Name) })
	return list
}
