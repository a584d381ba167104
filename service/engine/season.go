package engine

import (
	"context"
	"errors"
	"io"
	"strconv"
	"sync/atomic"
	"time"

	"golang.org/x/sync/errgroup"
)

// RoundTask is a round of a season that is to be answered.
type RoundTask struct {
	// RoundID and Name are as the caller gave them, "" for none.
	RoundID, Name string
	// Question names the answer.
	Question Question
	// Work makes it; it must outlive the season's caller, like that of Answer.
	Work func(context.Context) (*Answer, error)
	// Err is why there is nothing to be made; Work is then not called.
	Err error
	// Release gives back what the task holds; nil for nothing.
	Release func()
}

// RoundTold is what a round comes to: an answer or an error.
type RoundTold struct {
	RoundID, Name string
	Answer        *Answer
	Err           error
}

// Season is a work of many rounds.
type Season struct {
	// Next returns the next round as it comes, and io.EOF behind the last; its context ends with
	// the season. Any other error ends the season once the rounds before are told.
	Next func(context.Context) (RoundTask, error)
	// Tell takes what the rounds come to, in their order. Its error ends the season.
	Tell func(RoundTold) error
	// Progress is told how many rounds are done while the next one to be told isn't.
	Progress func(done int)
}

// EnterSeason admits a season, unless as many as are taken are under way: then it fails with a
// *BusyError.
func (e *Engine) EnterSeason() (leave func(), err error) {
	if e.seasons.Add(1) > int64(e.limits.Seasons) {
		e.seasons.Add(-1)
		e.meter.busy.WithLabelValues(busySeasons).Inc()
		return nil, &BusyError{RetryAfter: seasonRetry}
	}
	return func() { e.seasons.Add(-1) }, nil
}

// SeasonBytes is the most that a season's body has, as it is sent and as it unpacks.
func (e *Engine) SeasonBytes() int { return e.limits.SeasonBytes }

// CheckSeason holds so many rounds with the same riders, on which r's course has no bearing,
// against the limits.
func (e *Engine) CheckSeason(r Ride, rounds int) error {
	if rounds > MostRounds {
		return tooMany("#/rounds", "rounds", MostRounds, rounds)
	}
	if len(r.Riders) == 0 {
		return nil
	}
	m := matrix{riders: r.Riders, setups: r.Setups, efforts: r.each()}
	if err := e.checkMatrix(m); err != nil {
		return err
	}
	if n := rounds * m.rides(); n > e.limits.SeasonPredictions {
		return tooMany("#/rounds", "predictions, rounds times riders times set-ups, each plan counted as "+strconv.Itoa(PlanCost), e.limits.SeasonPredictions, n)
	}
	return nil
}

// seasonRetry is when a season that was refused may come back: one of those under way is over
// by then as likely as not.
const seasonRetry = 10 * time.Second

// RunSeason answers the rounds of a season, each in a turn of its own among the heavy work, as
// many at a time as there are workers to spare, and reads no further ahead than they need: who
// takes the answers slowly is read slowly. It ends, and all that it started with it, once the
// context does. Errors are the context's and those of Next and Tell.
func (e *Engine) RunSeason(ctx context.Context, s Season) error {
	ctx, stop := context.WithCancel(ctx)
	r := &seasonRun{
		engine: e, Season: s, todo: make(chan *round), told: make(chan *round, e.admit.size+1),
		slots: make(chan struct{}, e.admit.size+1), news: make(chan struct{}, 1),
	}
	var running errgroup.Group
	running.Go(func() error { r.read(ctx); return nil })
	for range e.admit.size {
		running.Go(func() error { r.work(ctx); return nil })
	}
	err := r.tell(ctx)
	stop()
	_ = running.Wait() // none fails
	return err
}

// seasonRun is a season under way.
type seasonRun struct {
	engine *Engine
	Season
	// todo leads to the workers, told to the one who tells; both are closed behind the last.
	todo, told chan *round
	// slots are taken by rounds from before they are read until they are told.
	slots chan struct{}
	// news says that a round is done, of which done counts them.
	news chan struct{}
	done atomic.Int64
}

// round is one on its way.
type round struct {
	task RoundTask
	RoundTold
	// done is closed once the answer or the error is there.
	done chan struct{}
	// ends is whether the season ends here, with the error.
	ends bool
}

// read reads rounds while there is room for them.
func (r *seasonRun) read(ctx context.Context) {
	defer close(r.told)
	defer close(r.todo)
	for {
		select {
		case r.slots <- struct{}{}:
		case <-ctx.Done():
			return
		}
		next := &round{done: make(chan struct{})}
		task, err := guard(func() (RoundTask, error) { return r.Next(ctx) })
		if err != nil {
			next.ends, next.Err = true, err
			close(next.done)
			r.told <- next
			return
		}
		next.task, next.RoundID, next.Name = task, task.RoundID, task.Name
		r.told <- next // has as much room as there are slots
		select {
		case r.todo <- next:
		case <-ctx.Done():
			next.finish(nil, ctx.Err())
			return
		}
	}
}

func (t *round) finish(a *Answer, err error) {
	t.Answer, t.Err = a, err
	if t.task.Release != nil {
		t.task.Release()
	}
	t.task = RoundTask{} // what it was made of isn't needed any more
	close(t.done)
}

// work answers rounds.
func (r *seasonRun) work(ctx context.Context) {
	for t := range r.todo {
		t.finish(r.answered(ctx, t.task))
		r.done.Add(1)
		select {
		case r.news <- struct{}{}:
		default:
		}
	}
}

func (r *seasonRun) answered(ctx context.Context, t RoundTask) (*Answer, error) {
	if t.Err != nil {
		return nil, t.Err
	}
	ctx = context.WithValue(ctx, turnKey{}, &turn{}) // not the request's, which is for one goroutine
	return r.engine.Answer(ctx, t.Question, func(ctx context.Context) (*Answer, error) {
		working, leave, err := r.engine.admit.enterAgain(anotherTrip(ctx, t.Question))
		if err != nil {
			return nil, err
		}
		defer leave()
		return t.Work(working)
	})
}

// anotherTrip lets the course of a round be read from Redis, unless it was with the answer, and
// written beside the answer: so that a file that is sent again is known to every replica.
func anotherTrip(ctx context.Context, q Question) context.Context {
	another := &trip{}
	if first, ok := ctx.Value(tripKey{}).(*trip); ok {
		another.courses = first.courses
		another.read.Store(len(q.CourseIDs) > 0 && first.read.Load())
	}
	return context.WithValue(ctx, tripKey{}, another)
}

// tell tells rounds in their order.
func (r *seasonRun) tell(ctx context.Context) error {
	for {
		var next *round
		select {
		case next = <-r.told:
		case <-ctx.Done():
		}
		if next == nil || !r.await(ctx, next) {
			return ctx.Err()
		}
		switch {
		case next.ends && errors.Is(next.Err, io.EOF):
			return nil
		case next.ends:
			return next.Err
		case ctx.Err() != nil:
			return ctx.Err()
		}
		if err := r.Tell(next.RoundTold); err != nil {
			return err
		}
		<-r.slots
	}
}

// await waits for a round; false where the season ends before.
func (r *seasonRun) await(ctx context.Context, next *round) bool {
	for {
		select {
		case <-next.done:
			return true
		case <-ctx.Done():
			return false
		case <-r.news:
			r.Progress(int(r.done.Load()))
		}
	}
}
