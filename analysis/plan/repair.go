package plan

import (
	"context"
	"math"

	"parcours.example/analysis/ride"
)

// fit rides powers by the true motion and corrects them until the ride keeps to the
// limits and spends what may be spent: powers above the threshold are drawn towards it,
// or away from it, all in proportion. It returns nil where that doesn't succeed.
func (t *task) fit(ctx context.Context, powers []ride.Step, spans []ride.Span) ([]ride.Step, *ride.Ride, error) {
	at := func(share float64) ([]ride.Step, *ride.Ride, float64, error) {
		steps := t.drawn(powers, share)
		ridden, err := t.simulate(ctx, steps, spans)
		if err != nil {
			return nil, nil, 0, err
		}
		return steps, ridden, t.room(ridden), nil
	}
	var best []ride.Step
	var bestRide *ride.Ride
	low, high := math.NaN(), math.NaN() // shares within the limits, and beyond them
	var atLow, atHigh float64
	share := 0.0
	for range 25 {
		steps, ridden, room, err := at(share)
		if err != nil {
			return nil, nil, err
		}
		if room >= 0 && (bestRide == nil || ridden.TimeS <= bestRide.TimeS) {
			best, bestRide = steps, ridden
		}
		if room >= 0 {
			low, atLow = share, room
		} else {
			high, atHigh = share, room
		}
		if room >= 0 && room <= spentJ {
			break
		}
		switch {
		case !math.IsNaN(low) && !math.IsNaN(high):
			if high-low < 1e-10 {
				return best, bestRide, nil
			}
			aim := low + float64((high-low)*(atLow-spentJ/2)/(atLow-atHigh))
			share = min(max(aim, low+float64(0.02*(high-low))), high-float64(0.02*(high-low)))
		default:
			slope := -t.spending(ridden)
			step := (room - spentJ/2) / -slope
			step = min(max(step, -0.2), 0.2)
			if math.IsNaN(low) {
				step = min(1.2*step, -1e-9)
			} else {
				step = max(1.2*step, 1e-9)
				if share > 0.5 {
					return best, bestRide, nil
				}
			}
			share += step
			if share < -1 {
				return nil, nil, nil
			}
		}
	}
	return best, bestRide, nil
}

// spentJ is what may be left of a stock, in J, where all of it could have been spent.
const spentJ = 0.01

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
