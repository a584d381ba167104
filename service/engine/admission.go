package engine

import (
	"context"
	"math"
	"time"

	"golang.org/x/sync/semaphore"

	"parcours.example/service/span"
)

// Above these a file is large: reading it takes so much memory that only one is
// read at a time.
const (
	largePoints = 200_000
	largeBytes  = 16 << 20
)

// lightSteps is the work up to which a computation is light, in steps: samples of the road
// ridden over, or seconds of riders raced. A core does about 4 to 8 million a second.
const lightSteps = 1_000_000

// admission lets computations run in two lanes, each with as many workers as there are, and
// no more than one large one. Light work, which people wait for, has workers of its own: what
// is heavy can slow it down by sharing the cores, but never keeps it waiting. The others wait,
// but not for long.
type admission struct {
	light, heavy *workerLane
	large        *semaphore.Weighted
	// size is the number of workers of a lane.
	size  int
	wait  time.Duration
	meter *meter
}

// The names of the lanes.
const laneLight, laneHeavy = "light", "heavy"

// workerLane is the workers that some computations share.
type workerLane struct {
	name    string
	workers *semaphore.Weighted
}

func newAdmission(workers int, wait time.Duration, m *meter) *admission {
	for _, lane := range []string{laneLight, laneHeavy} {
		m.workers.WithLabelValues(lane).Set(float64(workers))
	}
	return &admission{
		light: &workerLane{laneLight, semaphore.NewWeighted(int64(workers))},
		heavy: &workerLane{laneHeavy, semaphore.NewWeighted(int64(workers))},
		large: semaphore.NewWeighted(1),
		size:  workers,
		wait:  wait,
		meter: m,
	}
}

// laneKey is where a context keeps the lane of a computation.
type laneKey struct{}

// enter waits for a worker for so many steps of work. It returns the computation's context
// and the function that gives the worker back. It fails with the context's error, or with a
// *BusyError once the wait is over.
func (a *admission) enter(ctx context.Context, steps float64) (working context.Context, leave func(), err error) {
	if steps > lightSteps {
		return a.enterLane(ctx, a.heavy)
	}
	return a.enterLane(ctx, a.light)
}

func (a *admission) enterLane(ctx context.Context, l *workerLane) (working context.Context, leave func(), err error) {
	waits := a.meter.waiting.WithLabelValues(l.name)
	waits.Inc()
	_, step := span.Start(ctx, "queue")
	step.Note("lane", l.name)
	start := time.Now()
	release, err := a.acquire(ctx, l.workers, busyWorkers)
	step.End()
	a.meter.waits.WithLabelValues(l.name).Observe(time.Since(start).Seconds())
	waits.Dec()
	if err != nil {
		return nil, nil, err
	}
	inflight := a.meter.inflight.WithLabelValues(l.name)
	inflight.Inc()
	return context.WithValue(ctx, laneKey{}, l), func() { inflight.Dec(); release() }, nil
}

// enterLarge is enter for a computation that takes much memory.
func (a *admission) enterLarge(ctx context.Context) (working context.Context, leave func(), err error) {
	leaveLarge, err := a.acquire(ctx, a.large, busyLarge)
	if err != nil {
		return nil, nil, err
	}
	working, leaveWorker, err := a.enterLane(ctx, a.heavy)
	if err != nil {
		leaveLarge()
		return nil, nil, err
	}
	return working, func() { leaveWorker(); leaveLarge() }, nil
}

// admitted runs light work, or work that takes much memory, on a worker of a.
func admitted[T any](ctx context.Context, a *admission, large bool, work func(context.Context) (T, error)) (result T, err error) {
	enter := func(ctx context.Context) (context.Context, func(), error) { return a.enter(ctx, 0) }
	if large {
		enter = a.enterLarge
	}
	working, leave, err := enter(ctx)
	if err != nil {
		return result, err
	}
	defer leave()
	return work(working)
}

// more takes up to n further workers of a computation's lane that are free right now and
// returns how many it took and the function that gives them back.
func (a *admission) more(working context.Context, n int) (taken int, leave func()) {
	l, _ := working.Value(laneKey{}).(*workerLane)
	if l == nil {
		return 0, func() {}
	}
	for taken < n && l.workers.TryAcquire(1) {
		taken++
	}
	inflight := a.meter.inflight.WithLabelValues(l.name)
	inflight.Add(float64(taken))
	return taken, func() { inflight.Sub(float64(taken)); l.workers.Release(int64(taken)) }
}

// acquire waits for one unit of s and returns the function that gives it back. lacking says what
// there is too little of where it doesn't come.
func (a *admission) acquire(ctx context.Context, s *semaphore.Weighted, lacking string) (release func(), err error) {
	waiting, stop := context.WithTimeout(ctx, a.wait)
	defer stop()
	if err := s.Acquire(waiting, 1); err != nil {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		a.meter.busy.WithLabelValues(lacking).Inc()
		return nil, &BusyError{RetryAfter: a.retryAfter()}
	}
	return func() { s.Release(1) }, nil
}

// retryAfter is the wait in whole seconds, at least one.
func (a *admission) retryAfter() time.Duration {
	return time.Duration(max(1, math.Ceil(a.wait.Seconds()))) * time.Second
}
