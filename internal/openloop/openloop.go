// Package openloop sends requests at a rate of its own, whatever becomes of those before, and
// tells how long each took from the moment at which it was due. A loop that waits for answers
// would ask less of a server just when it is slow, and so hide its stalls. Nothing that ships
// imports it.
package openloop

import (
	"cmp"
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"sync"
	"time"
)

// Load is what is sent.
type Load struct {
	// PerSecond is the mean rate of arrivals, which come at random (Poisson).
	PerSecond float64
	// For is how long requests are sent. Run returns once the last is answered.
	For time.Duration
	// Seed is that of the arrivals.
	Seed uint64
	// Send makes request i and says what class its outcome is of, like "200" or "refused".
	Send func(ctx context.Context, i int) (class string)
}

// Result is what became of a load, by class of outcome.
type Result struct {
	// Outcomes are in order of arrival.
	Outcomes []Outcome
	// Took is the time from the first arrival due to the last answer.
	Took time.Duration
}

// Outcome is what became of one request.
type Outcome struct {
	Class string
	// Due is when it should have been sent, from the start of the run; Took is the time from
	// there to its answer.
	Due, Took time.Duration
}

// Run sends a load until it is over or ctx ends.
func Run(ctx context.Context, l Load) Result {
	random := rand.New(rand.NewPCG(l.Seed, 1))
	var (
		mu     sync.Mutex
		flying sync.WaitGroup
		all    []Outcome
	)
	start := time.Now()
	due := time.Duration(0)
	for i := 0; due < l.For; i++ {
		if !sleepUntil(ctx, start.Add(due)) {
			break
		}
		at := due
		flying.Go(func() {
			class := l.Send(ctx, i)
			took := time.Since(start) - at
			mu.Lock()
			defer mu.Unlock()
			all = append(all, Outcome{class, at, took})
		})
		due += time.Duration(random.ExpFloat64() / l.PerSecond * float64(time.Second))
	}
	flying.Wait()
	slices.SortFunc(all, func(a, b Outcome) int { return cmp.Compare(a.Due, b.Due) })
	return Result{all, time.Since(start)}
}

// sleepUntil waits for a moment; false if ctx ends first.
func sleepUntil(ctx context.Context, at time.Time) bool {
	wait := time.Until(at)
	if wait <= 0 {
		return ctx.Err() == nil
	}
	timer := time.NewTimer(wait)
	defer timer.Stop()
	select {
	case <-timer.C:
		return true
	case <-ctx.Done():
		return false
	}
}

// Counts returns the number of outcomes of each class.
func (r Result) Counts() map[string]int {
	n := map[string]int{}
	for _, o := range r.Outcomes {
		n[o.Class]++
	}
	return n
}

// PerSecond returns the rate of a class over the time that was taken.
func (r Result) PerSecond(class string) float64 {
	return float64(r.Counts()[class]) / r.Took.Seconds()
}

// Quantile returns the time within which the share q of a class's requests was answered, 0
// where there are none; of all requests where class is empty.
func (r Result) Quantile(class string, q float64) time.Duration {
	var took []time.Duration
	for _, o := range r.Outcomes {
		if class == "" || o.Class == class {
			took = append(took, o.Took)
		}
	}
	if len(took) == 0 {
		return 0
	}
	slices.Sort(took)
	return took[min(len(took)-1, max(0, int(math.Ceil(q*float64(len(took))))-1))]
}

// Between returns the part of a result whose requests were due from one moment on and before
// another.
func (r Result) Between(from, to time.Duration) Result {
	var part []Outcome
	for _, o := range r.Outcomes {
		if o.Due >= from && o.Due < to {
			part = append(part, o)
		}
	}
	return Result{part, to - from}
}
