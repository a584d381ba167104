package engine

import (
	"context"
	"sync/atomic"
	"time"
)

// turn is what a request holds of the workers from when it is first admitted to its end, so
// that what it does between computations, like reading and writing JSON, is admitted work
// too. It keeps its worker from one computation to the next, and the heavy one once it has
// one. It is for one goroutine.
type turn struct {
	// at is nil while it holds no worker.
	at *place
}

// turnKey is where a context keeps a turn.
type turnKey struct{}

func turnOf(ctx context.Context) *turn {
	t, _ := ctx.Value(turnKey{}).(*turn)
	return t
}

// laneOf is the lane in which a computation has a worker; nil where it has none.
func laneOf(ctx context.Context) *workerLane {
	if t := turnOf(ctx); t != nil && t.at != nil {
		return t.at.lane
	}
	return nil
}

// Begin admits a request of so many bytes, which aren't judged yet. The context that it
// returns is that of the request's work; what was begun with it must be ended with Finish.
// It fails with the context's error, or with a *BusyError.
func (e *Engine) Begin(ctx context.Context, bytes int) (context.Context, error) {
	t := &turn{}
	steps, cost := stepsPerByte*float64(bytes), time.Duration(0)
	if steps > lightSteps { // a small body says little about what is asked
		cost = costOf(steps)
	}
	if err := t.move(ctx, e.admit.laneOf(ctx, steps), cost, false); err != nil {
		return nil, err
	}
	return context.WithValue(ctx, turnKey{}, t), nil
}

// Finish gives the worker back that Begin or a computation since has got, where there still is one.
// What is written to a caller, who may take it slowly, is written after it.
func Finish(ctx context.Context) {
	if t := turnOf(ctx); t != nil {
		t.end()
	}
}

// Refused returns the *BusyError with which a request of so many bytes would be refused now;
// nil for one that would be let in.
func (e *Engine) Refused(ctx context.Context, bytes int64) error {
	return e.admit.laneOf(ctx, stepsPerByte*float64(bytes)).wouldRefuse(ctx)
}

// move gets a worker of a lane for work that is foreseen to take some time from now on.
func (t *turn) move(ctx context.Context, to *workerLane, cost time.Duration, begun bool) error {
	if t.at != nil && (t.at.lane == to || t.at.lane.name == laneHeavy) {
		t.at.expect(cost)
		return nil
	}
	t.end() // nobody holds one worker while waiting for another
	var err error
	t.at, err = to.take(ctx, cost, begun && to.name == laneLight)
	return err
}

func (t *turn) end() {
	if t.at != nil {
		t.at.leave()
		t.at = nil
	}
}

// loan is a worker of a request that waits for a computation: of the one that started it, the
// computation goes on with it, so that nobody comes in between. It is nobody's while others
// compute, for whoever waits needs none.
type loan struct {
	// of is the turn of the request; nil where it has none.
	of *turn
	// lane is that of the worker that the request had; nil where it had none.
	lane *workerLane
	// with is the turn of the computation. Whoever claims it first, the computation or the
	// request that takes it back, has it.
	with    turn
	claimed atomic.Bool
}

// lend gives the worker of a request away: to the computation that it starts, or to anybody.
func lend(ctx context.Context, starts bool) *loan {
	l := &loan{of: turnOf(ctx), lane: laneOf(ctx)}
	switch {
	case l.of == nil:
	case starts:
		l.with.at, l.of.at = l.of.at, nil
	default:
		l.of.end()
	}
	return l
}

// back gets a worker again for the request. It fails with the context's error.
func (l *loan) back(ctx context.Context) error {
	if l.lane == nil {
		return nil
	}
	if l.claimed.CompareAndSwap(false, true) && l.with.at != nil { // somebody else's computation was joined
		l.of.at, l.with.at = l.with.at, nil
		return nil
	}
	var err error
	l.of.at, err = l.lane.take(ctx, 0, true)
	return err
}

// inTurn runs work for requests that wait for it, on the worker of the one that started it
// where it has one. They may come and go.
func inTurn[T any](ctx context.Context, worker *loan, work func(context.Context) (T, error)) (T, error) {
	if turnOf(ctx) == nil {
		return work(ctx)
	}
	own := &worker.with
	if !worker.claimed.CompareAndSwap(false, true) { // who started it has left already
		own = &turn{}
	}
	defer own.end()
	return work(context.WithValue(ctx, turnKey{}, own))
}
