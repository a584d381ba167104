package plan

import (
	"context"
	"math"

	"parcours.example/analysis/ride"
)

// fit rides powers by the true motion and corrects them until the ride keeps to the
// limits and spends what may be spent: powers above the threshold are drawn towards it,
// or away from it, all in proportion. The fitting has no ride where that doesn't succeed.
func (t *task) fit(ctx context.Context, powers []ride.Step, spans []ride.Span) (fitting, error) {
	var f fitting
	share := 0.0
	for range mostFits {
		steps := t.drawn(powers, share)
		ridden, err := t.simulate(ctx, steps, spans)
		if halts(err) {
			return f, nil
		}
		if err != nil {
			return f, err
		}
		if f.first == nil {
			f.first, f.spendingJ = ridden, t.spending(ridden)
		}
		room := t.room(ridden)
		if room >= 0 && (f.ride == nil || ridden.TimeS <= f.ride.TimeS) {
			f.steps, f.ride, f.share = steps, ridden, share
		}
		if f.try(share, room); room >= 0 && room <= spentJ || !f.open() {
			break
		}
		share = f.next()
	}
	return f, nil
}

const (
	// mostFits is the most rides of a fit, mostShare the most that powers are drawn by.
	mostFits  = 25
	mostShare = 0.5
)

// fitting is the search for the share at which there is no room left. The room falls with
// the share.
type fitting struct {
	// steps and ride are the fastest within the limits, first the ride before any
	// correction.
	steps       []ride.Step
	ride, first *ride.Ride
	// share is that of steps; spendingJ how much stock the first ride spends.
	share, spendingJ float64
	// low is within the limits, high beyond them; has tells which of them are known.
	low, high, roomAtLow, roomAtHigh float64
	hasLow, hasHigh                  bool
	// last and before are the last two shares, with their rooms.
	last, before, roomAtLast, roomBefore float64
	tries                                int
}

// lossJ is the stock that the correction gave up or found.
func (f *fitting) lossJ() float64 {
	if f.ride == nil {
		return math.Inf(1)
	}
	return math.Abs(f.share) * f.spendingJ
}

func (f *fitting) try(share, room float64) {
	f.before, f.roomBefore = f.last, f.roomAtLast
	f.last, f.roomAtLast = share, room
	f.tries++
	if room >= 0 {
		f.low, f.roomAtLow, f.hasLow = share, room, true
	} else {
		f.high, f.roomAtHigh, f.hasHigh = share, room, true
	}
}

// open tells whether the search can go on.
func (f *fitting) open() bool {
	if f.hasLow && f.hasHigh {
		return f.high-f.low > 1e-10
	}
	return math.Abs(f.last) < mostShare
}

// next is the next share to try: the room falls with it by what is spent, to begin with.
func (f *fitting) next() float64 {
	if f.hasLow && f.hasHigh {
		width := f.high - f.low
		aim := f.low + float64(width*(f.roomAtLow-spentJ/2)/(f.roomAtLow-f.roomAtHigh))
		if f.tries > 6 && f.tries%3 == 0 {
			aim = f.low + float64(width/2)
		}
		return min(max(aim, f.low+float64(0.01*width)), f.high-float64(0.01*width))
	}
	slope := f.spendingJ
	if secant := (f.roomBefore - f.roomAtLast) / (f.last - f.before); f.tries > 1 && secant > 0.01*slope {
		slope = secant
	}
	step := min(max(1.2*(f.roomAtLast-spentJ/2)/slope, -0.1), 0.1)
	return f.last + step
}

// spentJ is what may be left of a stock, in J, where all of it could have been spent.
const spentJ = 0.05

// drawn returns steps with the powers above the threshold moved away from it by a share.
func (t *task) drawn(powers []ride.Step, share float64) []ride.Step {
	least, most := t.bounds()
	least, most = max(least, 0), min(most, t.highest())
	threshold := t.sustained()
	out := make([]ride.Step, len(powers))
	for i, s := range powers {
		if above := s.PowerW - threshold; above > 0 {
			s.PowerW += float64(above * share)
		}
		s.PowerW = min(max(s.PowerW, least), most)
		out[i] = s
	}
	return out
}

// spending is the work above the threshold in J: how much the room changes with a share.
func (t *task) spending(r *ride.Ride) float64 {
	sum := 0.0
	threshold := t.sustained()
	for i := 1; i < len(r.Trace.TimeS); i++ {
		if above := r.Trace.PowerW[i-1] - threshold; above > 0 {
			sum += float64(above * (r.Trace.TimeS[i] - r.Trace.TimeS[i-1]))
		}
	}
	return max(sum, 1)
}
