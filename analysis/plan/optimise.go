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
	longestM   = 15.0
	mostCells  = 30_000.0
)

// cellM is the length of a plan's cells: short ones on short courses.
func cellM(lengthM float64) float64 {
	return max(min(max(lengthM/cellsAimed, shortestM), longestM), lengthM/mostCells)
}

// The barriers' weights in s: the first; one at which a search still finds its way
// anywhere; one at which it stays near its start; the last.
const (
	widest = 0.05
	rough  = 1e-2
	narrow = 1e-3
	finest = 5e-5
)

// refine optimises on the plan's own grid from a scout's powers on.
func (t *task) refine(ctx context.Context, sc scout) (*sweeper, error) {
	s, err := sc.sweeper, error(nil)
	powers, from := sc.powers, sc.from
	for i := 0; err == nil && i < 1+t.reruns(); i++ {
		last := s
		g := t.newProgram(cellM(t.road.LengthM()))
		g.ease(t.limits.ChangeWPerS, last.trace(last.x))
		var own []float64
		if sc.alternates && i == 0 {
			own = g.alternating()
		} else {
			own = onto(last.program, powers, g)
		}
		x := g.from(own, blurOf(from))
		if g.coast(x) {
			x = g.from(own, blurOf(from))
		}
		s = newSweeper(g, x)
		s.sweeps = last.sweeps
		err = s.optimise(ctx, from, finest)
		powers, from = s.x.p, narrow
	}
	return s, err
}

// improve optimises the powers from the constant power on.
func (t *task) improve(ctx context.Context, constant *ride.Ride, powerW float64) (*sweeper, error) {
	g := t.newProgram(cellM(t.road.LengthM()))
	g.ease(t.limits.ChangeWPerS, constant.Trace)
	powers := make([]float64, len(g.cells))
	for k := range powers {
		powers[k] = powerW
	}
	s := newSweeper(g, g.from(powers, blurOf(finest)))
	return s, s.optimise(ctx, finest, finest)
}

// reruns is how often the plan is made anew: bounds of changes depend on how fast it goes.
func (t *task) reruns() int {
	if t.limits.ChangeWPerS > 0 {
		return 1
	}
	return 0
}

// mostSweeps bounds the sweeps of a search, mostSettlings how often one barrier's weight may
// find that it is too fast to pedal.
const (
	mostSweeps    = 240
	mostSettlings = 2
)

// optimise goes to the optimum from one barrier's weight to another.
func (s *sweeper) optimise(ctx context.Context, from, to float64) error {
	s.begin(from)
	return s.settle(ctx, to, mostSweeps)
}

// settle runs on, in at most so many sweeps, and settles where it is too fast to pedal, on
// the way and at the end.
func (s *sweeper) settle(ctx context.Context, to float64, sweeps int) error {
	end := s.sweeps + sweeps
	for _, mu := range [...]float64{max(to, narrow), to} {
		for range mostSettlings {
			if err := s.run(ctx, mu, end-s.sweeps); err != nil {
				return err
			}
			if !s.coast(s.x) {
				break
			}
			s.resume()
		}
	}
	return nil
}

// resume goes back inside bounds that have changed.
func (s *sweeper) resume() {
	*s.x = *s.from(s.x.p, s.blur)
	s.central(s.x, s.mu)
}

// roundingM is the distance below which two positions are one.
const roundingM = 1e-6

// correct optimises anew with the stock's bounds moved by what the true ride has less of the
// stock than the program thought, at the ends of its cells.
func (s *sweeper) correct(ctx context.Context, ridden *ride.Ride) error {
	i := 0
	trace := &ridden.Trace
	for k := 0; trace.WBalanceJ != nil && s.stock.law != account && k < len(s.grid.cells); k++ {
		for i < len(trace.DistanceM)-1 && trace.DistanceM[i] < s.grid.cells[k].endM-roundingM {
			i++
		}
		s.defect[k+1] = s.x.w[k+1] - trace.WBalanceJ[i]
	}
	s.resume()
	return s.settle(ctx, finest, mostSweeps)
}

// ease bounds the changes of power from cell to cell, by the time between the cells'
// middles in a ride.
func (g *program) ease(wPerS float64, ridden ride.Trace) {
	if math.IsNaN(wPerS) {
		return
	}
	before := 0.0
	for k, now := range middles(len(g.cells), func(k int) float64 { return g.cells[k].endM }, &ridden) {
		g.change[k] = max(0.999*wPerS*(now-before), slimW)
		before = now
	}
}

// middles returns when a ride passes the middles of n stretches that follow each other,
// from their ends in metres.
func middles(n int, endM func(k int) float64, ridden *ride.Trace) []float64 {
	times := make([]float64, n)
	i, start := 0, 0.0
	for k := range times {
		at := (start + endM(k)) / 2
		for i < len(ridden.DistanceM)-2 && ridden.DistanceM[i+1] < at {
			i++
		}
		share := (at - ridden.DistanceM[i]) / (ridden.DistanceM[i+1] - ridden.DistanceM[i])
		times[k] = ridden.TimeS[i] + float64(share*(ridden.TimeS[i+1]-ridden.TimeS[i]))
		start = endM(k)
	}
	return times
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
		if g.eased(k) {
			steps[k].PowerW = x.p[k] // which goes on changing gradually where nobody pedals
		}
	}
	return steps
}
