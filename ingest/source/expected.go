package source

import (
	"fmt"
	"strings"
)

// Expected tells people where the telemetry of a site's node is to be
// published: a topic for each source, with what stands in the message where no
// topic tells the node. Other wildcards of a filter stay as they are.
func (all Sources) Expected(site, node string) []string {
	var out []string
	for _, s := range all {
		if s.Format == SenML || s.Format == Fields {
			out = append(out, s.expected(site, node))
		}
	}
	return out
}

func (s Source) expected(site, node string) string {
	levels := strings.Split(s.Filter, "/")
	put := func(level int, name string) bool {
		if level < 1 || level > len(levels) || levels[level-1] != "+" {
			return false
		}
		levels[level-1] = name
		return true
	}
	put(s.Site, site)
	told := put(int(s.Node), node)
	name := strings.Join(levels, "/")
	switch {
	case told:
		return name
	case s.Node == FromPack:
		return fmt.Sprintf("%s (the message itself names %s)", name, node)
	}
	return fmt.Sprintf("%s (topic level %d is %s)", name, int(s.Node), node)
}
