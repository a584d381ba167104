package engine

import (
	"context"
	"errors"
	"math"

	"parcours.example/analysis/picture"
	"parcours.example/analysis/ride"
)

// PredictionPicture draws what Predict answers: the course with the speed, the power and
// the balance of W′ of each ride below it. A rider who comes to a halt is drawn up to
// there, also where it is the only one. Errors are those of Predict and *Error for more
// than picture.MostRides rides, or a height that is too low for them.
func (e *Engine) PredictionPicture(ctx context.Context, r Ride, look Look) (*Picture, error) {
	if err := checkDrawn(r, nil); err != nil {
		return nil, err
	}
	r.Trace, r.Sensitivities = true, false
	return e.ridePicture(ctx, r, nil, look)
}

// PlanPicture draws what Plan answers: the plans in steps, as they are ridden, and each
// rider's own effort beside them. Errors are those of Plan and PredictionPicture.
func (e *Engine) PlanPicture(ctx context.Context, r PlanRequest, look Look) (*Picture, error) {
	if err := checkDrawn(r.Ride, r.Given); err != nil {
		return nil, err
	}
	r.Effort, r.Sensitivities = ride.Effort{Kind: Best}, false
	return e.ridePicture(ctx, r.Ride, &planning{limits: r.Limits, given: r.Given, traces: true}, look)
}

// checkDrawn holds the number of rides against what a picture tells apart.
func checkDrawn(r Ride, given *ride.Effort) error {
	riders, each := len(r.Riders), max(1, len(r.Setups))
	rides, pointer := riders*each, "#/setups"
	switch {
	case riders > picture.MostRides:
		pointer = "#/riders"
	case given != nil:
		if rides <= picture.MostRides {
			pointer = "#/given_effort"
		}
		rides *= 2
	}
	if rides > picture.MostRides {
		return tooMany(pointer, "rides in one picture, riders times set-ups and with own efforts twice as many", picture.MostRides, rides)
	}
	return nil
}

// ridePicture rides and draws a matrix.
func (e *Engine) ridePicture(ctx context.Context, r Ride, asked *planning, look Look) (*Picture, error) {
	m, err := e.matrix(ctx, r, asked)
	if err != nil {
		return nil, err
	}
	m = m.named()
	p, err := e.ride(ctx, m)
	if err != nil {
		return nil, err
	}
	return e.drawn(ctx, func() (*Picture, error) {
		rides, err := m.drawn(ctx, p)
		if err != nil {
			return nil, err
		}
		return written(ctx, m.course, look, picture.OfRides, rides)
	})
}

// drawn is what is drawn of a matrix's rides: the error of the first where there is
// nothing of any.
func (m matrix) drawn(ctx context.Context, p *Predictions) (picture.Rides, error) {
	all := picture.Rides{FromM: m.from, ToM: m.to, Planned: m.planning != nil, Indoor: m.conditions.Indoor}
	some := false
	for _, item := range p.Items {
		made, err := m.drawnRide(ctx, item, m.efforts[item.RiderIndex])
		if err != nil {
			return all, err
		}
		all.All = append(all.All, made)
		some = some || len(made.Trace.DistanceM) > 0
		if item.Planned != nil && item.Planned.Given != nil {
			own, err := m.drawnRide(ctx, *item.Planned.Given, *m.planning.given)
			if err != nil {
				return all, err
			}
			own.Own = true
			all.All = append(all.All, own)
		}
	}
	if !some {
		return all, p.Items[0].Err
	}
	return all, nil
}

// drawnRide is what is drawn of a ride at an effort.
func (m matrix) drawnRide(ctx context.Context, item Prediction, effort ride.Effort) (picture.Ride, error) {
	unknown := math.NaN()
	out := picture.Ride{
		Rider: item.Rider, Setup: item.Setup, TimeS: unknown, MeanPowerW: unknown, LowJ: unknown, LowAtM: unknown,
		HaltAtM: unknown, RunsDryAtM: unknown, CriticalPowerW: m.riders[item.RiderIndex].CriticalPowerW,
		ConstantPowerW: unknown, ConstantTimeS: unknown, PlanTimeS: unknown, Band: item.Band,
	}
	var halt *ride.Error
	switch {
	case errors.As(item.Err, &halt) && halt.Code == ride.CodeCannotClimb && effort.Kind != Best:
		return m.upToHalt(ctx, out, item, effort, halt.AtM)
	case item.Err != nil:
		out.Why = item.Err.Error()
		return out, nil //nolint:nilerr // the picture says why there is none
	}
	shown := item.Ride
	if planned := item.Planned; planned != nil && planned.Held != nil {
		shown = planned.Held.Ride
		out.ConstantPowerW, out.ConstantTimeS, out.PlanTimeS = planned.ConstantPowerW, planned.ConstantTimeS, item.Ride.TimeS
	}
	out.Trace, out.TimeS, out.MeanPowerW = shown.Trace, shown.TimeS, shown.MeanPowerW
	out.RunsDryAtM = runsDryAt(shown.Trace) + m.from
	if b := shown.Balance; b != nil {
		out.LowJ, out.LowAtM = b.MinJ, b.MinAtM+m.from
	}
	return out, nil
}

// upToHalt adds to what is drawn of a ride its trace up to where the rider comes to a halt.
func (m matrix) upToHalt(ctx context.Context, out picture.Ride, item Prediction, effort ride.Effort, atM float64) (picture.Ride, error) {
	road, err := m.road()
	if err != nil {
		return out, err
	}
	out.HaltAtM = atM
	out.Trace, err = ride.Attempt(ctx, road, m.riders[item.RiderIndex], m.setups[item.SetupIndex], shiftSteps(effort, m.from))
	out.RunsDryAtM = runsDryAt(out.Trace) + m.from
	for i, j := range out.Trace.WBalanceJ {
		if i == 0 || j < out.LowJ {
			out.LowJ, out.LowAtM = j, out.Trace.DistanceM[i]+m.from
		}
	}
	return out, err
}
