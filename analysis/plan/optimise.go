package plan

import (
	"context"
	"math"

	"parcours.example/analysis/ride"
)

const (
	// cellsAimed is how many cells a plan has where they aren't too short or too long.
	cellsAimed = 2500.0
	shortestM  = 5.0
	longestM   = 12.0
	mostCells  = 30_000.0
)

// cellM is the length of a plan's cells: short ones on short courses.
func cellM(lengthM float64) float64 {
	return max(min(max(lengthM/cellsAimed, shortestM), longestM), lengthM/mostCells)
}

// search optimises the powers.
func (t *task) search(ctx context.Context, constant *ride.Ride) ([]ride.Step, outcome, error) {
	g := t.newProgram(&constant.Bike, cellM(t.road.LengthM()), nil)
	g.ease(t.limits.ChangeWPerS, constant.Trace)
	x := g.constantly(blurOf(widest))
	o, err := g.optimise(ctx, x, widest)
	if err == nil && t.limits.ChangeWPerS > 0 {
		// The bounds of the changes depend on how fast it goes.
		g.ease(t.limits.ChangeWPerS, g.trace(x))
		x = g.from(x.p, blurOf(narrow))
		o, err = g.optimise(ctx, x, narrow)
	}
	return g.steps(x), o, err
}

// The barriers' weights in s: the first, the one at which it is settled where nobody
// pedals, that to go on with, and the last.
const (
	widest = 0.05
	rough  = 3e-3
	narrow = 1e-3
	finest = 1e-4
)

// optimise takes a ride to the optimum, and settles where it is too fast to pedal.
func (g *program) optimise(ctx context.Context, x *point, from float64) (outcome, error) {
	o, err := g.minimise(ctx, x, search{from: from, to: rough, sweeps: 60})
	mu := narrow
	for i := 0; i < 3 && err == nil; i++ {
		if changed := g.coast(x); i > 0 && !changed {
			break
		}
		n := o.sweeps
		o, err = g.minimise(ctx, x, search{from: mu, to: finest, sweeps: 100})
		o.sweeps += n
		mu = narrow / 3
	}
	return o, err
}

// ease bounds the changes of power from cell to cell, by the time between the cells'
// middles in a ride.
func (g *program) ease(wPerS float64, ridden ride.Trace) {
	if math.IsNaN(wPerS) {
		return
	}
	i, start, before := 0, 0.0, 0.0
	for k := range g.cells {
		middle := (start + g.cells[k].endM) / 2
		for i < len(ridden.DistanceM)-2 && ridden.DistanceM[i+1] < middle {
			i++
		}
		share := (middle - ridden.DistanceM[i]) / (ridden.DistanceM[i+1] - ridden.DistanceM[i])
		clock := ridden.TimeS[i] + float64(share*(ridden.TimeS[i+1]-ridden.TimeS[i]))
		g.change[k] = max(0.999*wPerS*(clock-before), slimW)
		start, before = g.cells[k].endM, clock
	}
}

// trace is a ride over the cells as a trace.
func (g *program) trace(x *point) ride.Trace {
	t := ride.Trace{DistanceM: []float64{0}, TimeS: []float64{0}}
	clock := 0.0
	for k := range g.cells {
		clock += x.t[k]
		t.DistanceM, t.TimeS = append(t.DistanceM, g.cells[k].endM), append(t.TimeS, clock)
	}
	return t
}

// coast marks the cells that a ride passes faster than anybody pedals, and bounds the
// power by what holds the coasting speed where it comes near it. It tells whether that
// changed anything.
func (g *program) coast(x *point) bool {
	changed := false
	for k := range g.cells {
		c := &g.cells[k]
		if math.IsInf(c.coastJ, 1) || g.coasts[k] || min(x.e[k], x.e[k+1]) < nearCoasting*c.coastJ {
			continue
		}
		v := g.speed(c.coastJ)
		hold := c.force(c.coastJ, c.coastJ, v, v, g.inertiaKg).value * v / g.efficiency
		switch {
		case hold <= g.least[k]:
			g.coasts[k], changed = true, true
		case hold < g.most[k] && g.free(k):
			g.most[k], changed = hold, true
		}
	}
	return changed
}

// nearCoasting is the share of the coasting speed's energy from which on it rules.
const nearCoasting = 0.98

// steps are the powers of a ride as steps.
func (g *program) steps(x *point) []ride.Step {
	steps := make([]ride.Step, len(g.cells))
	for k := range steps {
		steps[k] = ride.Step{EndM: g.cells[k].endM, PowerW: g.effective(k, x.p[k])}
	}
	return steps
}
