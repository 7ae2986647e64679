package main

import (
	"slices"

	"heaterd/alerts/fleet"
	"heaterd/config"
)

// elsewhere reports whether a topic tells a site of ours that is not the one
// where the node is.
func elsewhere(cfg *config.Config, topic, at string) bool {
	told := cfg.Sources.SiteOf(topic)
	return told != "" && told != at && slices.ContainsFunc(cfg.Fleet.Sites, func(s fleet.Site) bool { return s.ID == told })
}
