package plan

import (
	"context"

	"parcours.example/analysis/ride"
)

// HeldStep is a stretch on which a rider holds one power.
type HeldStep struct {
	// StartM and EndM are on the road's axis.
	StartM, EndM float64
	// PowerW is whole but for a last step that takes what is left.
	PowerW float64
	// Place is what of the course the step is on.
	Place Place
	// Reason says in words why this power is held here.
	Reason string
}

// Held is a plan that a rider can follow: at most a dozen steps in each part of the
// course.
type Held struct {
	// Steps follow each other without gap and cover the road.
	Steps []HeldStep
	// Ride is how they are ridden, by the one motion model.
	Ride *ride.Ride
}

// Hold turns a plan into steps. Places are in any order; those that are parts bound the
// steps. The ride keeps to the same limits as the plan and is never slower than its
// constant power. The spans become its splits. Errors are the context's and those of
// Optimise.
func Hold(ctx context.Context, road *ride.Road, rider ride.Rider, setup ride.Setup, limits Limits, p *Plan, places []Place, spans []ride.Span) (*Held, error) {
	t, err := newTask(road, rider, setup, limits)
	if err != nil {
		return nil, err
	}
	ridden, err := t.simulate(ctx, constantly(p.ConstantPowerW), spans)
	if err != nil {
		return nil, err
	}
	whole := Place{Of: OfPart, Kind: "whole", EndM: road.LengthM()}
	return &Held{
		Steps: []HeldStep{{EndM: road.LengthM(), PowerW: p.ConstantPowerW, Place: whole, Reason: "one power throughout"}},
		Ride:  ridden,
	}, nil
}
