package engine

import (
	"cmp"
	"context"
	"errors"
	"sync"

	"golang.org/x/sync/singleflight"

	"parcours.example/service/span"
)

// flights shares one computation among the callers that ask for the same. It goes on
// while one of them waits for it.
type flights[V any] struct {
	group singleflight.Group
	mu    sync.Mutex
	// waiting holds the callers of each computation.
	waiting map[string]*waiters
	// running counts the callers whose computation has not ended, which may outlive them.
	running sync.WaitGroup
}

// waiters are the callers who wait for one computation; cancel abandons it.
type waiters struct {
	count  int
	ctx    context.Context //nolint:containedctx // that of the computation, which has no caller of its own
	cancel context.CancelFunc
}

// shared runs work once for all callers that come with the same key while it runs, on
// a context that ends when none of them is left: so a first caller who gives up
// doesn't fail the others, and what nobody waits for takes no worker.
func (f *flights[V]) shared(ctx context.Context, key string, work func(context.Context) (V, error)) (V, error) {
	if patient(ctx) { // nobody else waits for what has time
		key = "patient/" + key
	}
	for {
		v, err := f.join(ctx, key, work)
		if errors.Is(err, context.Canceled) && ctx.Err() == nil { // it was abandoned just before this caller came
			continue
		}
		return v, err
	}
}

// join starts a computation, or waits for the one that runs.
func (f *flights[V]) join(ctx context.Context, key string, work func(context.Context) (V, error)) (V, error) {
	var none V
	ctx, step := span.Start(ctx, "flight") // of the first, with all that is done; of the others, their wait for it
	defer step.End()
	w, first := f.enter(ctx, key)
	defer f.leave(key, w)
	f.running.Add(1) // here, where the caller can't yet be gone: whoever closes waits for it
	worker := lend(ctx, first)
	result := f.group.DoChan(key, func() (any, error) {
		return guard(func() (V, error) { return inTurn(w.ctx, worker, work) })
	})
	var r singleflight.Result
	select {
	case r = <-result:
		f.running.Done()
	case <-ctx.Done():
		r.Err = ctx.Err()
		go func() {
			<-result
			f.running.Done()
		}()
	}
	if err := cmp.Or(r.Err, worker.back(ctx)); err != nil {
		return none, err
	}
	return r.Val.(V), nil
}

// enter counts a caller, and tells whether it is the first of those who wait.
func (f *flights[V]) enter(ctx context.Context, key string) (w *waiters, first bool) {
	f.mu.Lock()
	defer f.mu.Unlock()
	w, ok := f.waiting[key]
	if !ok {
		w = &waiters{}
		w.ctx, w.cancel = context.WithCancel(context.WithoutCancel(ctx))
		if f.waiting == nil {
			f.waiting = map[string]*waiters{}
		}
		f.waiting[key] = w
	}
	w.count++
	return w, !ok
}

// leave discounts a caller; the last one ends the computation's context.
func (f *flights[V]) leave(key string, w *waiters) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if w.count--; w.count == 0 {
		w.cancel()
		delete(f.waiting, key)
	}
}
