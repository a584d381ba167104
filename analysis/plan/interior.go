package plan

import (
	"context"
	"math"

	"parcours.example/analysis/elementary"
)

// outcome tells how it went.
type outcome struct {
	timeS     float64
	sweeps    int
	converged bool
}

const (
	// smaller is the factor between one barrier's weight and the next.
	smaller = 0.3
	// centred is the promise, in shares of the barrier's whole weight, below which a
	// barrier is done with; stalled the decrease, and patience how often it may be less.
	centred, stalled, patience = 0.1, 0.005, 3
	// settledShare is the decrease in shares of the cost that counts as none.
	settledShare = 3e-7
	// firstDamp is the first damping after a step that had to be shortened much.
	firstDamp = 0.1
	halvings  = 12
)

// blurOf is the width in W over which the kink at the threshold is rounded, at a barrier's
// weight.
func blurOf(mu float64) float64 { return min(max(3e3*mu, 0.02), 20) }

func (s *sweeper) outcome() outcome {
	return outcome{timeS: s.x.timeOf(), sweeps: s.sweeps, converged: s.converged}
}

// run lowers the barriers' weight to a last one, in at most so many sweeps.
func (s *sweeper) run(ctx context.Context, last float64, sweeps int) error {
	whole := 0.0
	for k := range s.cells {
		whole += s.weight(k)
	}
	cost := s.cost(s.x)
	slow := 0
	s.converged = false
	for range sweeps {
		if err := ctx.Err(); err != nil {
			return err
		}
		s.sweeps++
		s.backward()
		next, better := s.descend(cost)
		if cost-next < max(stalled*s.mu*whole, settledShare*cost) {
			slow++
		} else {
			slow = 0
		}
		cost = next
		done := s.promise < centred*s.mu*whole && s.damp == 0
		if !done && slow < patience && (better || s.damp < 1e6) {
			continue
		}
		if s.mu <= last {
			s.converged = true
			return nil
		}
		slow = 0
		s.begin(max(last, smaller*s.mu))
		cost = s.cost(s.x)
	}
	return nil
}

// begin sets a barrier's weight. The stock is ridden anew, since its law's kink has got
// sharper.
func (s *sweeper) begin(mu float64) {
	first := s.mu == 0
	s.mu, s.blur, s.damp = mu, blurOf(mu), 0
	x := s.x
	for k := range s.cells {
		x.w[k+1] = s.restock(x.w[k], s.effective(k, x.p[k]), x.t[k], s.blur)
		x.rooms[k] = s.roomAt(x, k)
	}
	if !s.strictly(x) {
		*x = *s.from(x.p, s.blur)
		first = true
	}
	if first {
		s.central(x, mu)
	}
}

// descend takes the longest share of the step that keeps its promise, and returns the
// cost there.
func (s *sweeper) descend(cost float64) (float64, bool) {
	share := 1.0
	for range halvings {
		if s.forward(share) {
			if next := s.cost(s.trial); next < cost-float64(1e-4*share*s.promise) {
				s.multipliers()
				*s.x, *s.trial = *s.trial, *s.x
				s.adjust(share)
				return next, true
			}
		}
		share /= 2
	}
	s.adjust(0)
	return cost, false
}

// adjust sets the damping by how much of the last step could be used.
func (s *sweeper) adjust(share float64) {
	switch {
	case share < 0.3:
		s.damp = max(firstDamp, 4*s.damp)
	case share == 1 && s.damp > 0:
		s.damp /= 8
		if s.damp < firstDamp/100 {
			s.damp = 0
		}
	}
}

// cost is the barrier function: the time less the barriers' logarithms.
func (s *sweeper) cost(x *point) float64 {
	sum := 0.0
	for k := range s.cells {
		sum += x.t[k]
		r := &x.rooms[k]
		product := r.least * r.most * r.creep
		if !math.IsInf(r.floor, 1) {
			product *= r.floor / (r.floor + s.nearJ)
		}
		for _, more := range [...]float64{r.rider, r.speed} {
			if !math.IsInf(more, 1) {
				product *= more
			}
		}
		log := elementary.Log(product)
		if s.brakes {
			log += elementary.Log(r.beta)
		}
		if s.eased(k) {
			log += elementary.Log(r.up * r.down)
		}
		sum -= float64(s.mu * s.weight(k) * log)
	}
	return sum
}
