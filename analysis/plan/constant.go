package plan

import (
	"context"
	"math"

	"parcours.example/analysis/ride"
)

// bestConstant finds the highest constant power within the limits, and rides it.
func (t *task) bestConstant(ctx context.Context, spans []ride.Span) (float64, *ride.Ride, error) {
	low, high := t.sustained(), t.highest()
	if !(low < high) {
		ridden, err := t.simulate(ctx, constantly(high), spans)
		return high, ridden, err
	}
	// margin is the room within the limits at a power, in J: ≥ 0 at low, falling.
	margin := func(powerW float64) (float64, error) {
		ridden, err := t.simulate(ctx, constantly(powerW), nil)
		if err != nil {
			return 0, err
		}
		return t.room(ridden), nil
	}
	atLow, err := margin(low)
	if err != nil {
		return 0, nil, err
	}
	atHigh, err := margin(high)
	if err != nil {
		return 0, nil, err
	}
	if atHigh >= 0 {
		low = high
	}
	// Illinois; low stays on the side that is within the limits.
	for kept := 0; high-low > 1e-9*high; {
		x := low + float64((high-low)*atLow/(atLow-atHigh))
		x = min(max(x, low+float64((high-low)*1e-4)), high-float64((high-low)*1e-4))
		y, err := margin(x)
		if err != nil {
			return 0, nil, err
		}
		if y >= 0 {
			low, atLow = x, y
			if kept > 0 {
				atHigh /= 2
			}
			kept = 1
			if y <= roomToleranceJ {
				break
			}
		} else {
			high, atHigh = x, y
			if kept < 0 {
				atLow /= 2
			}
			kept = -1
		}
	}
	ridden, err := t.simulate(ctx, constantly(low), spans)
	return low, ridden, err
}

// roomToleranceJ is what may be left of W′, in J, where all of it could have been spent.
const roomToleranceJ = 1e-3

// sustained is a power that is always within the limits.
func (t *task) sustained() float64 {
	if !math.IsNaN(t.limits.MeanPowerW) {
		return t.limits.MeanPowerW
	}
	return t.capacity.CriticalPowerW
}

// highest is the highest power that could be held for a moment.
func (t *task) highest() float64 {
	most := limitFactor * t.sustained()
	if !math.IsNaN(t.rider.MaxPowerW) && math.IsNaN(t.limits.MeanPowerW) {
		most = t.rider.MaxPowerW
	}
	if t.limits.MaxPowerW < most {
		most = t.limits.MaxPowerW
	}
	return most
}

// room returns how far a ride stays within the limits that depend on the ride, in J; it
// is negative where the ride goes beyond them.
func (t *task) room(r *ride.Ride) float64 {
	if !math.IsNaN(t.limits.MeanPowerW) {
		return (t.limits.MeanPowerW - r.MeanPowerW) * r.TimeS
	}
	c := t.capacity
	room := r.Balance.EndJ - t.limits.EndReserveJ
	for i, balance := range r.Trace.WBalanceJ {
		needed := 0.0
		if above := r.Trace.PowerW[max(i-1, 0)] - c.CriticalPowerW; above > 0 && !math.IsNaN(t.rider.MaxPowerW) {
			needed = c.WPrimeJ * above / (t.rider.MaxPowerW - c.CriticalPowerW)
		}
		room = min(room, balance-needed)
	}
	return room
}

func (t *task) simulate(ctx context.Context, powers []ride.Step, spans []ride.Span) (*ride.Ride, error) {
	return ride.Simulate(ctx, t.road, t.rider, t.setup, ride.Effort{Kind: ride.BySteps, Steps: powers}, spans)
}

func constantly(powerW float64) []ride.Step {
	return []ride.Step{{EndM: math.Inf(1), PowerW: powerW}}
}
