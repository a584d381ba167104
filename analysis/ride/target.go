package ride

import (
	"context"
	"errors"
	"fmt"
	"math"
)

const (
	// timeToleranceS is how exactly a target time is met.
	timeToleranceS = 1e-6
	// mostTargetW is the highest power that is tried for one.
	mostTargetW = 5000.0
)

// powerFor returns the constant power that rides the road in a time, to 10⁻⁶ s or as
// near as the power's own digits allow. More power is never slower, so there is one
// unless the time is out of reach: too short for 5,000 W or for the bends, or longer
// than the slowest ride that doesn't come to a halt.
func powerFor(ctx context.Context, road *Road, bike *Bike, timeS float64) ([]Step, error) {
	if !(timeS > 0) || math.IsInf(timeS, 1) {
		return nil, invalid("a target time of %v s", timeS)
	}
	late := func(powerW float64) (float64, error) {
		rec, err := travel(ctx, road, bike, []Step{{math.Inf(1), powerW}}, nil)
		var halt *Error
		switch {
		case errors.As(err, &halt) && halt.Code == CodeCannotClimb:
			return math.Inf(1), nil
		case err != nil:
			return 0, err
		}
		return rec.clock - timeS, nil
	}
	powerW, err := falling(late, 0, mostTargetW)
	if err != nil {
		return nil, err
	}
	return constant(powerW)
}

// falling finds the zero of a function that falls from low to high and may be +Inf in
// a first part, by bisection until it is finite at both ends and regula falsi (Illinois)
// from there.
func falling(f func(float64) (float64, error), low, high float64) (float64, error) {
	atLow, err := f(low)
	if err != nil {
		return 0, err
	}
	atHigh, err := f(high)
	if err != nil {
		return 0, err
	}
	if atLow < -timeToleranceS || atHigh > timeToleranceS {
		return 0, outOfReach()
	}
	kept := 0
	for range 200 {
		x := between(low, high, atLow, atHigh)
		if high-low <= 1e-13*high || x <= low || x >= high {
			break
		}
		y, err := f(x)
		switch {
		case err != nil:
			return 0, err
		case math.Abs(y) <= timeToleranceS:
			return x, nil
		case y < 0:
			high, atHigh = x, y
			if kept < 0 {
				atLow /= 2
			}
			kept = -1
		default:
			low, atLow = x, y
			if kept > 0 {
				atHigh /= 2
			}
			kept = 1
		}
	}
	if math.IsInf(atLow, 1) {
		return 0, outOfReach()
	}
	return (low + high) / 2, nil
}

// between is the next place to try. Far from the zero, where the function is anything
// but straight, the interval is halved in proportion.
func between(low, high, atLow, atHigh float64) float64 {
	switch {
	case high > 4*max(low, 0.1):
		return math.Sqrt(max(low, 0.1) * high)
	case math.IsInf(atLow, 1):
		return (low + high) / 2
	}
	return low + (high-low)*atLow/(atLow-atHigh)
}

func outOfReach() error {
	return &Error{
		Code: CodeTimeOutOfReach, AtM: math.NaN(),
		Detail: fmt.Sprintf("no constant power of at most %.0f W takes this time on this course", mostTargetW),
	}
}
