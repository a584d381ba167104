package engine

import (
	"context"

	"parcours.example/analysis/ride"
	"parcours.example/analysis/season"
)

// Round is a round of a season.
type Round struct {
	Course  *Course
	Figures season.Figures
	// Rides holds the matrix, riders first; empty without riders.
	Rides []RoundRide
	// Assumptions are the defaults that were used.
	Assumptions []Assumption
}

// RoundRide is one rider on one set-up over a round.
type RoundRide struct {
	Prediction
	// AskedPowerW is the power that was asked for, its mean where it changes along the course.
	AskedPowerW float64
	// TimeByMass and TimeByDragArea are the shares by which the time grows per share of the mass
	// moved and of the drag area. They and the power are 0 where there is no ride.
	TimeByMass, TimeByDragArea float64
}

// Round analyses a course and rides all riders on all set-ups over it. A prediction's failure
// stands in its place. Errors are those of Predict.
func (e *Engine) Round(ctx context.Context, r Ride) (*Round, error) {
	c, err := e.Course(ctx, r.Course)
	if err != nil {
		return nil, err
	}
	out := &Round{Course: c, Figures: season.FiguresOf(c.Course, c.Terrain)}
	if len(r.Riders) == 0 {
		return out, nil
	}
	r.Sensitivities = true
	m, err := matrixOn(c, r, nil)
	if err != nil {
		return nil, err
	}
	p, err := e.ride(ctx, m)
	if err != nil {
		return nil, err
	}
	out.Assumptions = p.Assumptions
	for _, item := range p.Items {
		out.Rides = append(out.Rides, roundRide(item))
	}
	return out, nil
}

func roundRide(p Prediction) RoundRide {
	out := RoundRide{Prediction: p}
	if p.Ride == nil {
		return out
	}
	out.AskedPowerW = p.Ride.MeanPowerW
	if asked := p.Ride.Asked(); asked.Kind == ride.BySteps && len(asked.Steps) == 1 {
		out.AskedPowerW = asked.Steps[0].PowerW
	}
	if s := p.Sensitivities; s != nil && p.Ride.TimeS > 0 {
		out.TimeByMass = s.Whole.PerKg * p.Ride.Bike.MassKg / p.Ride.TimeS
		out.TimeByDragArea = s.Whole.PerCdAM2 * p.Ride.Bike.CdAM2 / p.Ride.TimeS
	}
	return out
}
