package trials

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"runtime"
	"strconv"
	"testing"
	"time"

	"parcours.example/internal/figures"
	"parcours.example/internal/openloop"
	"parcours.example/internal/replica"
)

// T9: a service that is asked for ten times of what it can do goes on doing what it can, as
// fast as before for those whom it lets in, and tells the others at once when to come back.
//
// The service has one core and whoever asks the other, so that asking more takes nothing from
// answering; the mix has small and large requests, none like another.
func TestT09Overload(t *testing.T) {
	p := launched(t, "GOMAXPROCS=1")
	apart(t, p)
	c := newCaller(t, p)
	loads, span := []float64{0.8, 10}, 1500*time.Millisecond
	ramp := 250 * time.Millisecond
	settled := span / 3
	if inFull() {
		loads, span, settled, ramp = []float64{0.5, 0.8, 1, 2, 4, 10}, 20*time.Second, 5*time.Second, 4*time.Second
	}
	capacity := 0.0
	for i, callers := range []int{1, 2, 4} {
		capacity = max(capacity, c.closedLoop(t.Context(), callers, ramp, uint64(100*i)))
	}
	if capacity == 0 {
		t.Fatal("nothing was answered")
	}
	figures.Report(t, "T9", "capacity %.0f/s in a closed loop", capacity)
	peak := 0.0
	for i, times := range loads {
		result := openloop.Run(t.Context(), openloop.Load{
			PerSecond: times * capacity, For: span, Seed: uint64(i),
			Send: func(ctx context.Context, k int) string { return c.mixed(ctx, uint64(1000+i), k) },
		})
		for class, n := range result.Counts() {
			if class != "200" && class != turnedAway {
				t.Errorf("%.1f of capacity: %d ended with %s", times, n, class)
			}
		}
		steady := result.Between(settled, span)
		good := float64(answeredBetween(result, settled, span)) / (span - settled).Seconds()
		peak = max(peak, good)
		if result.Counts()["200"] == 0 {
			t.Errorf("%.1f of capacity: nothing was answered", times)
		}
		figures.Report(t, "T9", "%.1f of capacity: %.0f/s answered (%.0f %% of peak), p50 %v, p99 %v; %.0f/s refused, p99 %v",
			times, good, 100*good/peak, round(steady.Quantile("200", 0.5)), round(steady.Quantile("200", 0.99)),
			float64(steady.Counts()[turnedAway])/(span-settled).Seconds(), round(steady.Quantile(turnedAway, 0.99)))
	}
}

// answeredBetween counts the requests that were answered from one moment on and before another,
// whenever they came.
func answeredBetween(r openloop.Result, from, to time.Duration) (n int) {
	for _, o := range r.Outcomes {
		if at := o.Due + o.Took; o.Class == "200" && at >= from && at < to {
			n++
		}
	}
	return n
}

func round(d time.Duration) time.Duration { return d.Round(100 * time.Microsecond) }

// apart gives a replica one core and the trial the others, where that can be done.
func apart(t *testing.T, p *replica.Process) {
	t.Helper()
	cores := runtime.NumCPU()
	if cores < 2 {
		return
	}
	others := fmt.Sprintf("1-%d", cores-1)
	t.Cleanup(func() { _ = pin(os.Getpid(), fmt.Sprintf("0-%d", cores-1)) })
	if err := errors.Join(pin(p.PID(), "0"), pin(os.Getpid(), others)); err != nil {
		t.Logf("the service and those who ask share the cores: %v", err)
	}
}

// pin lets a process run on some cores alone.
func pin(pid int, cores string) error {
	return exec.Command("taskset", "-a", "-p", "-c", cores, strconv.Itoa(pid)).Run() //nolint:gosec,noctx // numbers
}
