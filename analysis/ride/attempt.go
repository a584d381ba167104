package ride

import (
	"context"
	"errors"
)

// Attempt returns the trace of the ride that Simulate rides, without spans. Where the
// rider comes to a halt it ends there, and the error is nil; before a metre is ridden it is
// empty. Other errors are Simulate's.
func Attempt(ctx context.Context, road *Road, rider Rider, setup Setup, effort Effort) (Trace, error) {
	bike, err := NewBike(rider, setup, road.Conditions)
	if err != nil {
		return Trace{}, err
	}
	steps, err := askedSteps(ctx, road, &bike, rider, effort)
	if err != nil {
		return Trace{}, err
	}
	cuts := cutsOf(steps, nil, road.LengthM())
	rec := newRecord(road, &bike, samplesOn(road, cuts))
	err = rec.over(ctx, road.Pieces, steps, cuts)
	var halt *Error
	switch {
	case errors.As(err, &halt) && halt.Code == CodeCannotClimb:
		if halt.AtM < leastAttemptM {
			return Trace{}, nil
		}
		rec.sampleHalt(halt.AtM)
	case err != nil:
		return Trace{}, err
	}
	rec.close()
	t := rec.trace
	if reserve, ok := NewReserve(rider); ok {
		t.WBalanceJ = reserve.Balances(t.TimeS, t.PowerW)
	}
	return t, nil
}

// leastAttemptM is the shortest ride in metres that has a trace.
const leastAttemptM = 1.0

// sampleHalt notes the state at a halt, unless the last sample is as good as there.
func (r *record) sampleHalt(atM float64) {
	if t := r.trace; atM-t.DistanceM[len(t.DistanceM)-1] > leastSampleM || len(t.TimeS) == 1 {
		r.sample(atM)
	}
}
