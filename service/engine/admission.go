package engine

import (
	"context"
	"math"
	"time"

	"golang.org/x/sync/semaphore"
)

// Above these a file is large: reading it takes so much memory that only one is
// read at a time.
const (
	largePoints = 200_000
	largeBytes  = 16 << 20
)

// admission lets no more computations run than there are workers, and no more
// than one large one. The others wait, but not for long.
type admission struct {
	workers *semaphore.Weighted
	large   *semaphore.Weighted
	// size is the number of workers.
	size  int
	wait  time.Duration
	meter *meter
}

func newAdmission(workers int, wait time.Duration, m *meter) *admission {
	return &admission{
		workers: semaphore.NewWeighted(int64(workers)),
		large:   semaphore.NewWeighted(1),
		size:    workers,
		wait:    wait,
		meter:   m,
	}
}

// enter waits for a worker and returns the function that gives it back. It fails
// with the context's error, or with a *BusyError once the wait is over.
func (a *admission) enter(ctx context.Context) (leave func(), err error) {
	release, err := a.acquire(ctx, a.workers)
	if err != nil {
		return nil, err
	}
	a.meter.inflight.Inc()
	return func() { a.meter.inflight.Dec(); release() }, nil
}

// enterLarge is enter for a large computation.
func (a *admission) enterLarge(ctx context.Context) (leave func(), err error) {
	leaveLarge, err := a.acquire(ctx, a.large)
	if err != nil {
		return nil, err
	}
	leaveWorker, err := a.enter(ctx)
	if err != nil {
		leaveLarge()
		return nil, err
	}
	return func() { leaveWorker(); leaveLarge() }, nil
}

// admitted runs work on a worker of a.
func admitted[T any](ctx context.Context, a *admission, large bool, work func() (T, error)) (result T, err error) {
	enter := a.enter
	if large {
		enter = a.enterLarge
	}
	leave, err := enter(ctx)
	if err != nil {
		return result, err
	}
	defer leave()
	return work()
}

// more takes up to n further workers that are free right now and returns how many
// it took and the function that gives them back.
func (a *admission) more(n int) (taken int, leave func()) {
	for taken < n && a.workers.TryAcquire(1) {
		taken++
	}
	a.meter.inflight.Add(float64(taken))
	return taken, func() { a.meter.inflight.Sub(float64(taken)); a.workers.Release(int64(taken)) }
}

// acquire waits for one unit of s and returns the function that gives it back.
func (a *admission) acquire(ctx context.Context, s *semaphore.Weighted) (release func(), err error) {
	waiting, stop := context.WithTimeout(ctx, a.wait)
	defer stop()
	if err := s.Acquire(waiting, 1); err != nil {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		a.meter.busy.Inc()
		return nil, &BusyError{RetryAfter: a.retryAfter()}
	}
	return func() { s.Release(1) }, nil
}

// retryAfter is the wait in whole seconds, at least one.
func (a *admission) retryAfter() time.Duration {
	return time.Duration(max(1, math.Ceil(a.wait.Seconds()))) * time.Second
}
