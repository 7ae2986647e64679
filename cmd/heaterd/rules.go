package main

import (
	"heaterd/alerts/fold"
	"heaterd/config"
)

// rulesOf gives the engine's figures as the configuration changes them.
func rulesOf(cfg *config.Config) fold.Rules {
	r := fold.DefaultRules()
	r.Lateness, r.Backlog = cfg.Lateness, cfg.Backlog
	r.Plan, r.Season = cfg.Plan, cfg.Season
	return r
}
