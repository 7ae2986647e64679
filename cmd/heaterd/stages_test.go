package main

import (
	"context"
	"errors"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"
)

// journal notes what stages do, in order.
type journal struct {
	mu    sync.Mutex
	lines []string
}

func (j *journal) note(line string) {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.lines = append(j.lines, line)
}

// stage makes one that takes a while to stop and then gives err.
func (j *journal) stage(name string, toStop time.Duration, err error) stage {
	return stage{name, func(ctx context.Context) error {
		j.note("+" + name)
		<-ctx.Done()
		pauseFor(toStop)
		j.note("-" + name)
		return err
	}}
}

func pauseFor(d time.Duration) { <-time.After(d) }

// stopped runs stages until they are told to stop after a second, and says
// how long the stop took.
func stopped(t *testing.T, stages []stage) (took time.Duration, err error) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	var told time.Time
	go func() {
		pauseFor(time.Second)
		told = time.Now()
		cancel()
	}()
	err = runStages(ctx, silent, stages)
	return time.Since(told), err
}

func TestStagesStopInMirrorOrder(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var j journal
		took, err := stopped(t, []stage{
			j.stage("a", 3*time.Second, nil), j.stage("b", 2*time.Second, nil), j.stage("c", time.Second, nil),
		})
		if err != nil {
			t.Fatal(err)
		}
		if want := []string{"-c", "-b", "-a"}; !slices.Equal(j.lines[3:], want) {
			t.Errorf("they stopped as %v, want %v", j.lines[3:], want)
		}
		if took != 6*time.Second {
			t.Errorf("stopping took %v; each may only be told once the next has ended", took)
		}
	})
}

// What a stage leans on must run for as long as the stage does.
func TestStageStillRunsWhileLaterOnesStop(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		under := make(chan context.Context, 1)
		lower := stage{"lower", func(ctx context.Context) error { under <- ctx; <-ctx.Done(); return nil }}
		upper := stage{"upper", func(ctx context.Context) error {
			<-ctx.Done()
			pauseFor(time.Second)
			return (<-under).Err()
		}}
		if _, err := stopped(t, []stage{lower, upper}); err != nil {
			t.Errorf("the stage below was stopped first: %v", err)
		}
	})
}

func TestStageThatHangsIsLeft(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var j journal
		release := make(chan struct{})
		hung := stage{"hung", func(context.Context) error { <-release; return nil }}
		took, err := stopped(t, []stage{j.stage("a", 0, nil), hung})
		close(release)
		if err == nil || !strings.Contains(err.Error(), "hung did not stop within 6s") {
			t.Errorf("got %v", err)
		}
		if took != stageStop {
			t.Errorf("stopping took %v, want %v", took, stageStop)
		}
		if j.lines[len(j.lines)-1] != "-a" {
			t.Error("the stage below was not stopped in order")
		}
	})
}

func TestStageThatEndsStopsAll(t *testing.T) {
	broken := errors.New("broken")
	tests := []struct {
		name string
		err  error
		want string
	}{
		{"with an error", broken, "mid: broken"},
		{"without one", nil, "mid ended by itself"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				var j journal
				mid := stage{"mid", func(context.Context) error { pauseFor(time.Minute); return tt.err }}
				err := runStages(t.Context(), silent, []stage{j.stage("a", 0, nil), mid, j.stage("c", 0, nil)})
				if err == nil || !strings.Contains(err.Error(), tt.want) {
					t.Errorf("got %v, want it to say %q", err, tt.want)
				}
				if tt.err != nil && !errors.Is(err, tt.err) {
					t.Errorf("%v hides its cause", err)
				}
				if n := strings.Count(err.Error(), broken.Error()); n > 1 {
					t.Errorf("%q says its cause %d times", err, n)
				}
				if want := []string{"-c", "-a"}; !slices.Equal(j.lines[2:], want) {
					t.Errorf("the others stopped as %v, want %v", j.lines[2:], want)
				}
			})
		})
	}
}

func TestStageErrorsAtTheStopAreAllTold(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var j journal
		one, two := errors.New("one"), errors.New("two")
		_, err := stopped(t, []stage{j.stage("a", 0, one), j.stage("b", 0, two)})
		if !errors.Is(err, one) || !errors.Is(err, two) {
			t.Errorf("got %v, want both errors", err)
		}
	})
}

// A caller that gives up before the start still sees every stage stop.
func TestStagesToldBeforeTheyBegin(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		var j journal
		if err := runStages(ctx, silent, []stage{j.stage("a", 0, nil), j.stage("b", 0, nil)}); err != nil {
			t.Fatal(err)
		}
		if n := len(j.lines); n != 4 {
			t.Errorf("%d steps were taken, want each stage to begin and end: %v", n, j.lines)
		}
	})
}
