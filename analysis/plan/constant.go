package plan

import (
	"context"
	"errors"
	"math"

	"parcours.example/analysis/ride"
)

// bestConstant finds the highest constant power within the limits, and rides it. It tells
// whether that is the highest power there is, so that no other plan can be faster.
func (t *task) bestConstant(ctx context.Context, spans []ride.Span) (powerW float64, ridden *ride.Ride, highest bool, err error) {
	low, roomAtLow, err := t.climbing(ctx)
	if err != nil {
		return 0, nil, false, err
	}
	high := t.highest()
	if low < high {
		low, highest, err = t.mostWithin(ctx, low, roomAtLow, high)
	} else {
		low, highest = high, true
	}
	if err != nil {
		return 0, nil, false, err
	}
	ridden, err = t.simulate(ctx, constantly(low), spans)
	return low, ridden, highest, err
}

// climbing returns a constant power that is within the limits and gets over the course:
// the sustained one, or where that comes to a halt the least above it that doesn't.
func (t *task) climbing(ctx context.Context) (powerW, room float64, err error) {
	high := t.highest()
	powerW = min(t.sustained(), high)
	ridden, stopped := t.simulate(ctx, constantly(powerW), nil)
	for halts(stopped) && powerW < high {
		powerW = min(1.03*powerW, high)
		ridden, err = t.simulate(ctx, constantly(powerW), nil)
		if err == nil && t.room(ridden) >= 0 {
			return powerW, t.room(ridden), nil
		}
		if err != nil && !halts(err) {
			return 0, 0, err
		}
	}
	if stopped != nil {
		return 0, 0, stopped
	}
	return powerW, t.room(ridden), nil
}

// halts tells whether a ride failed since the rider comes to a halt.
func halts(err error) bool {
	var known *ride.Error
	return errors.As(err, &known) && known.Code == ride.CodeCannotClimb
}

// mostWithin returns the highest constant power between low, which is within the limits,
// and high, and whether that is high.
func (t *task) mostWithin(ctx context.Context, low, roomAtLow, high float64) (float64, bool, error) {
	room := func(powerW float64) (float64, error) {
		ridden, err := t.simulate(ctx, constantly(powerW), nil)
		if err != nil {
			return 0, err
		}
		return t.room(ridden), nil
	}
	roomAtHigh, err := room(high)
	if err != nil || roomAtHigh >= 0 {
		return high, true, err
	}
	// Illinois; low stays on the side that is within the limits.
	for kept := 0; high-low > 1e-9*high; {
		x := low + float64((high-low)*roomAtLow/(roomAtLow-roomAtHigh))
		x = min(max(x, low+float64((high-low)*1e-4)), high-float64((high-low)*1e-4))
		y, err := room(x)
		if err != nil {
			return 0, false, err
		}
		if y >= 0 {
			low, roomAtLow = x, y
			if y <= roomToleranceJ {
				break
			}
			if kept > 0 {
				roomAtHigh /= 2
			}
			kept = 1
		} else {
			high, roomAtHigh = x, y
			if kept < 0 {
				roomAtLow /= 2
			}
			kept = -1
		}
	}
	return low, false, nil
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
	most := ride.UnknownMaxFactor * t.sustained()
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
