package engine

import (
	"context"
	"time"

	"parcours.example/service/span"
)

// turnsKey is where a context keeps that its work is done in many turns.
type turnsKey struct{}

// takesTurns reports whether work is one of the turns of a longer one: it waits for a worker as
// long as it must, in alternation with newcomers, so that neither keeps the other from working.
func takesTurns(ctx context.Context) bool { return ctx.Value(turnsKey{}) != nil }

// enterAgain waits for a heavy worker for one of many turns of a long work.
func (a *admission) enterAgain(ctx context.Context) (working context.Context, leave func(), err error) {
	ctx = context.WithValue(ctx, turnsKey{}, true)
	t := &turn{}
	t.at, err = a.heavy.take(ctx, 0, false)
	return context.WithValue(ctx, turnKey{}, t), t.end, err
}

// takeAgain is take for one of many turns of a long work.
func (l *workerLane) takeAgain(ctx context.Context, cost time.Duration) (*place, error) {
	_, step := span.Start(ctx, "queue")
	step.Note("lane", l.name)
	defer step.End()
	l.mu.Lock()
	if cost <= 0 {
		cost = l.mean()
	}
	if l.waiting() == 0 && l.free()+l.spare() > 0 {
		defer l.mu.Unlock()
		return l.grant(cost, false), nil
	}
	at := l.again.PushBack(&waiter{granted: make(chan *place, 1), cost: cost})
	l.mu.Unlock()
	waits := l.meter.waiting.WithLabelValues(l.name)
	waits.Inc()
	defer waits.Dec()
	return l.await(ctx, &l.again, at, true)
}

// callAgain gives the workers that are free or spare to those who come again, where nobody else
// waits.
func (l *workerLane) callAgain() {
	for l.crowd() == 0 && l.again.Len() > 0 && l.free()+l.spare() > 0 {
		w := l.again.Remove(l.again.Front()).(*waiter)
		l.freshLast = false
		w.granted <- l.grant(w.cost, false)
	}
}

// spare is how many workers there are beside the lane's own.
func (l *workerLane) spare() int {
	if l.beside == nil {
		return 0
	}
	return l.beside()
}
