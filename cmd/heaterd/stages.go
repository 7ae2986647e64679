package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"
)

// stage is one part of the daemon: it runs until its context ends, then puts
// its work in order and returns.
type stage struct {
	name string
	run  func(context.Context) error
}

// stageStop is how long one stage may take to stop; with all of them the
// daemon stops in under ten seconds unless several hang at once.
const stageStop = 6 * time.Second

// started is a running stage.
type started struct {
	stage
	stop context.CancelFunc
	done chan error
}

// runStages starts the stages in order, waits until ctx ends or one of them
// gives up, and stops them in the opposite order: each while those it leans
// on still run.
func runStages(ctx context.Context, log *slog.Logger, stages []stage) error {
	ended := make(chan error, len(stages))
	var running []*started
	for _, s := range stages {
		running = append(running, start(ctx, s, ended))
	}
	var err error
	select {
	case <-ctx.Done():
	case err = <-ended:
	}
	for i := len(running) - 1; i >= 0; i-- {
		err = errors.Join(err, running[i].end(log))
	}
	return err
}

func start(ctx context.Context, s stage, ended chan<- error) *started {
	own, stop := context.WithCancel(context.WithoutCancel(ctx))
	st := &started{stage: s, stop: stop, done: make(chan error, 1)}
	go func() {
		err := s.run(own)
		if err != nil {
			err = fmt.Errorf("%s: %w", s.name, err)
		}
		st.done <- err
		if own.Err() == nil {
			ended <- errors.New(s.name + " ended by itself")
		}
	}()
	return st
}

func (s *started) end(log *slog.Logger) error {
	begun := time.Now()
	s.stop()
	t := time.NewTimer(stageStop)
	defer t.Stop()
	select {
	case err := <-s.done:
		log.Debug("stopped", "stage", s.name, "took", time.Since(begun).Round(time.Millisecond))
		return err
	case <-t.C:
		return fmt.Errorf("%s did not stop within %v", s.name, stageStop)
	}
}
