package engine

import (
	"context"
	"time"
)

// Above these a file is large: reading it takes so much memory that only one is
// read at a time.
const (
	largePoints = 200_000
	largeBytes  = 16 << 20
)

// Work is counted in steps: samples of the road ridden over, or seconds of riders raced.
const (
	// lightSteps is the work up to which a computation is light.
	lightSteps = 1_000_000
	// stepsPerSecond is what a core does at least; up to twice that were measured.
	stepsPerSecond = 4e6
	// stepsPerByte is what reading and analysing a course takes for each byte of its file: a
	// megabyte takes 0.2 to 0.3 s. Judging and decoding a request takes less.
	stepsPerByte = 1
	// stepsPerNode is what joining and analysing a course takes for each of its nodes.
	stepsPerNode = 5
)

// admission lets computations run in two lanes. Light work, which people wait for, has a
// worker on each core; heavy work leaves one core to it. Files that take much memory are read
// one at a time.
type admission struct {
	light, heavy, large *workerLane
	// size is the number of workers.
	size int
}

// The names of the lanes.
const laneLight, laneHeavy, laneLarge = "light", "heavy", "large"

func newAdmission(workers int, wait time.Duration, m *meter) *admission {
	a := &admission{
		light: newLane(laneLight, workers, wait, busyWorkers, m),
		heavy: newLane(laneHeavy, max(1, workers-1), wait, busyWorkers, m).yielding(),
		large: newLane(laneLarge, 1, wait, busyLarge, m),
		size:  workers,
	}
	a.heavy.beside = a.beside
	return a
}

// beside is how many workers heavy work may have beside its own: all of them while nothing light
// is under way.
func (a *admission) beside() int {
	if a.light.idle() {
		return a.size - a.heavy.size
	}
	return 0
}

// costOf is how long work of so many steps is foreseen to take; 0 where that isn't known.
func costOf(steps float64) time.Duration {
	return time.Duration(min(steps/stepsPerSecond, maxCostS) * float64(time.Second))
}

// maxCostS bounds what is foreseen, in seconds.
const maxCostS = 3600

// laneOf is the lane for work of so many steps. Patient work is heavy, however little it is.
func (a *admission) laneOf(ctx context.Context, steps float64) *workerLane {
	if steps > lightSteps || patient(ctx) {
		return a.heavy
	}
	return a.light
}

// enter waits for a worker for so many steps of work, 0 where they aren't known. It returns
// the computation's context and the function that gives the worker back, where it isn't kept
// for the rest of a turn. It fails with the context's error, or with a *BusyError.
func (a *admission) enter(ctx context.Context, steps float64) (working context.Context, leave func(), err error) {
	t, begun := ctx.Value(turnKey{}).(*turn)
	leave = func() {}
	if !begun {
		t = &turn{}
		ctx, leave = context.WithValue(ctx, turnKey{}, t), t.end
	}
	if err := t.move(ctx, a.laneOf(ctx, steps), costOf(steps), begun); err != nil {
		return nil, nil, err
	}
	return ctx, leave, nil
}

// enterLarge is enter for a computation that takes much memory.
func (a *admission) enterLarge(ctx context.Context, steps float64) (working context.Context, leave func(), err error) {
	Finish(ctx) // nobody holds a worker while waiting for this
	alone, err := a.large.take(ctx, costOf(steps), false)
	if err != nil {
		return nil, nil, err
	}
	working, leaveWorker, err := a.enter(ctx, max(steps, lightSteps+1))
	if err != nil {
		alone.leave()
		return nil, nil, err
	}
	return working, func() { leaveWorker(); alone.leave() }, nil
}

// admitted runs work of so many steps on a worker of a, alone of its kind where it takes much
// memory.
func admitted[T any](ctx context.Context, a *admission, steps float64, large bool, work func(context.Context) (T, error)) (result T, err error) {
	enter := a.enter
	if large {
		enter = a.enterLarge
	}
	working, leave, err := enter(ctx, steps)
	if err != nil {
		return result, err
	}
	defer leave()
	return work(working)
}

// help is what a computation with a worker may take further workers from.
type help struct {
	// lane is nil where the computation has no worker.
	lane    *workerLane
	patient bool
}

// helpFor returns what a computation may take further workers from.
func helpFor(working context.Context) help {
	return help{laneOf(working), patient(working)}
}

// hire takes up to n further workers, as many as are free right now, and returns how many it
// took. Heavy work gets all cores while nothing light is under way.
func (h help) hire(n int) int {
	if h.lane == nil {
		return 0
	}
	return h.lane.hire(n, h.lane.spare(), h.patient)
}

// stays reports whether a hired worker may go on: nobody waits for it.
func (h help) stays() bool { return h.lane.uncrowded(h.lane.spare(), h.patient) }

// dismiss gives a hired worker back.
func (h help) dismiss() { h.lane.dismiss(h.patient) }
