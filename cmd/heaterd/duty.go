package main

import (
	"context"
	"fmt"
	"strings"
	"time"

	"heaterd/alerts/notify"
	"heaterd/alerts/notify/rota"
	"heaterd/alerts/notify/rotafile"
	"heaterd/config"
)

const (
	rotaAhead = 8 * 7 * 24 * time.Hour // how far ahead check looks for gaps: two months of turns
	fetchWait = 20 * time.Second
	rotaTime  = "Mon 2 Jan 2006 15:04 MST"
)

// checkDuty looks for stretches of the coming weeks in which nobody is on call.
// They are refused, for the fallback is for the unforeseen: all but the time
// after the calendar's last event, which gives a warning. A rota is written so
// far ahead and no further.
func checkDuty(ctx context.Context, cfg *config.Config, now time.Time) ([]config.Problem, error) {
	s := cfg.Notify
	if s.Rota.Calendar == "" && len(s.Rota.Turns) == 0 {
		return nil, nil
	}
	r, err := readRota(ctx, s)
	if err != nil {
		return nil, err
	}
	until := now.Add(rotaAhead)
	gaps := r.Gaps(now, until)
	var ends []config.Problem
	if n := len(gaps); s.Rota.Calendar != "" && n > 0 && gaps[n-1].From.After(now) && gaps[n-1].To.Equal(until) {
		ends = []config.Problem{{File: cfg.Path, Path: "on_call.calendar", Message: fmt.Sprintf("names nobody from %s on: alarms go to %s then",
			inZone(gaps[n-1].From, s.Rota.Zone), s.Fallback)}}
		gaps = gaps[:n-1]
	}
	if len(gaps) == 0 {
		return ends, nil
	}
	var told []string
	for _, g := range gaps {
		told = append(told, fmt.Sprintf("nobody is on call from %s to %s", inZone(g.From, s.Rota.Zone), inZone(g.To, s.Rota.Zone)))
	}
	return nil, fmt.Errorf("%s: the rota has gaps; fill them by turns, the calendar or on_call.overrides:\n  %s", cfg.Path, strings.Join(told, "\n  "))
}

// readRota is who is on call when, by what the calendar says now.
func readRota(ctx context.Context, s notify.Settings) (*rota.Rota, error) {
	var body []byte
	if s.Rota.Calendar != "" {
		ctx, cancel := context.WithTimeout(ctx, fetchWait)
		defer cancel()
		var err error
		if body, err = rotafile.Fetch(ctx, s.Rota.Calendar); err != nil {
			return nil, err
		}
	}
	r, strangers, err := notify.NewRota(s, body)
	if err != nil {
		return nil, err
	}
	if len(strangers) > 0 {
		return nil, fmt.Errorf("the calendar names people the configuration does not know: %s", strings.Join(strangers, ", "))
	}
	return r, nil
}

func inZone(t time.Time, zone *time.Location) string {
	if zone == nil {
		zone = time.UTC
	}
	return t.In(zone).Format(rotaTime)
}
