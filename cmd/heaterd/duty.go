package main

import (
	"context"
	"fmt"
	"strings"
	"time"

	"heaterd/alerts/notify"
	"heaterd/alerts/notify/rotafile"
	"heaterd/config"
)

const (
	rotaAhead = 8 * 7 * 24 * time.Hour // how far ahead check looks for gaps: two months of turns
	fetchWait = 20 * time.Second
	rotaTime  = "Mon 2 Jan 2006 15:04 MST"
)

// checkDuty finds the stretches of the coming weeks in which nobody is on
// call. They are refused: the fallback is for the unforeseen.
func checkDuty(ctx context.Context, cfg *config.Config, now time.Time) error {
	s := cfg.Notify
	if s.Rota.Calendar == "" && len(s.Rota.Turns) == 0 {
		return nil
	}
	var body []byte
	if s.Rota.Calendar != "" {
		ctx, cancel := context.WithTimeout(ctx, fetchWait)
		defer cancel()
		var err error
		if body, err = rotafile.Fetch(ctx, s.Rota.Calendar); err != nil {
			return err
		}
	}
	r, strangers, err := notify.NewRota(s, body)
	if err != nil {
		return err
	}
	if len(strangers) > 0 {
		return fmt.Errorf("the calendar names people the configuration does not know: %s", strings.Join(strangers, ", "))
	}
	var gaps []string
	for _, g := range r.Gaps(now, now.Add(rotaAhead)) {
		gaps = append(gaps, fmt.Sprintf("nobody is on call from %s to %s", inZone(g.From, s.Rota.Zone), inZone(g.To, s.Rota.Zone)))
	}
	if len(gaps) > 0 {
		return fmt.Errorf("the rota has gaps:\n  %s", strings.Join(gaps, "\n  "))
	}
	return nil
}

func inZone(t time.Time, zone *time.Location) string {
	if zone == nil {
		zone = time.UTC
	}
	return t.In(zone).Format(rotaTime)
}
