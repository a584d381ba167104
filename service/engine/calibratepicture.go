package engine

import (
	"context"
	"math"

	"parcours.example/analysis/picture"
	"parcours.example/analysis/ride"
)

// CalibrationPicture draws a ride as it was predicted and as it was ridden: the course with
// speed, power and the balance of W′ below it. Errors are those of Calibrate and *Error for
// more than one ride.
func (e *Engine) CalibrationPicture(ctx context.Context, asked CalibrationRequest, look Look) (*Picture, error) {
	if n := len(asked.Rides); n != 1 {
		return nil, tooMany("#/rides", "rides in one picture", 1, n)
	}
	asked.Traces = true
	found, err := e.Calibrate(ctx, asked)
	if err != nil {
		return nil, err
	}
	return e.drawn(ctx, func() (*Picture, error) {
		x := &found.Rides[0]
		rides := picture.Rides{FromM: x.FromM, ToM: x.ToM, Indoor: x.Conditions.Indoor, All: []picture.Ride{x.drawnAsPredicted(), x.drawnAsRidden()}}
		return written(ctx, x.Course, look, picture.OfRides, rides)
	})
}

func (x *Examined) drawnAsPredicted() picture.Ride {
	out := x.undrawn()
	r := x.Account.Predicted
	out.Trace, out.TimeS, out.MeanPowerW = r.Trace, r.TimeS, r.MeanPowerW
	out.RunsDryAtM = runsDryAt(r.Trace) + x.FromM
	if b := r.Balance; b != nil {
		out.LowJ, out.LowAtM = b.MinJ, b.MinAtM+x.FromM
	}
	return out
}

func (x *Examined) drawnAsRidden() picture.Ride {
	out := x.undrawn()
	a := x.Account
	out.Recorded, out.Trace, out.TimeS, out.MeanPowerW = true, x.riddenTrace(), a.RiddenS, a.RiddenPowerW
	if b := a.Balance; b != nil {
		out.LowJ, out.LowAtM = b.MinJ, b.MinAtM+x.FromM
		out.RunsDryAtM = runsDryAt(out.Trace) + x.FromM
	}
	return out
}

// undrawn is a line of a picture of which nothing is known but whose it is.
func (x *Examined) undrawn() picture.Ride {
	unknown := math.NaN()
	return picture.Ride{
		Rider: x.Rider, Setup: x.Setup, TimeS: unknown, MeanPowerW: unknown, LowJ: unknown, LowAtM: unknown,
		HaltAtM: unknown, RunsDryAtM: unknown, CriticalPowerW: unknown, ConstantPowerW: unknown, ConstantTimeS: unknown, PlanTimeS: unknown,
	}
}

// riddenTrace is the ride as a trace, where the rider moved; its power holds from one sample
// to the next.
func (x *Examined) riddenTrace() ride.Trace {
	points, a := x.Ride.Points, x.Account
	var t ride.Trace
	for i, p := range points {
		if n := len(t.DistanceM); n > 0 && p.AtM-x.FromM <= t.DistanceM[n-1] {
			continue // stands
		}
		speed := p.SpeedMPS
		if math.IsNaN(speed) {
			speed = 0
			if i > 0 {
				speed = (p.AtM - points[i-1].AtM) / (p.TimeS - points[i-1].TimeS)
			}
		}
		t.DistanceM, t.TimeS, t.SpeedMps = append(t.DistanceM, p.AtM-x.FromM), append(t.TimeS, p.TimeS-points[0].TimeS), append(t.SpeedMps, speed)
		if a.PowerW != nil {
			t.PowerW = append(t.PowerW, a.PowerW[min(i+1, len(points)-1)])
		}
		if a.Balance != nil {
			t.WBalanceJ = append(t.WBalanceJ, a.Balance.J[i])
		}
	}
	return t
}
