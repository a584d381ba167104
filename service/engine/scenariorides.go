package engine

import (
	"context"
	"errors"
	"fmt"

	"parcours.example/analysis/plan"
	"parcours.example/analysis/race"
	"parcours.example/analysis/ride"
)

// alone is a rider's ride without the others.
type alone struct {
	timeS float64
	steps []ride.Step
	used  []ride.Assumption
	// planned is nil for every effort but Best.
	planned *Planned
}

// checkAlone holds the rides alone against the limits of predictions.
func (s *scenario) checkAlone(l Limits) error {
	n, plans := len(s.field), 0
	for i := range s.field {
		effort, at := s.effortOf(i)
		if effort.Kind != Best {
			continue
		}
		plans++
		if fault := planFault(plan.Unlimited(), s.field[i].Rider, i); fault != nil {
			return s.faultOf(fault, i, at)
		}
	}
	if n += plans * (PlanCost - 1); n > l.Predictions {
		return tooMany("#/riders", fmt.Sprintf("rides alone, each of %d plans counted as %d of them", plans, PlanCost), l.Predictions, n)
	}
	if n := plans * len(s.road.Pieces); n > l.PlanSamples {
		return tooMany("#/riders", "samples to plan over", l.PlanSamples, n)
	}
	return nil
}

// effortOf returns a rider's own effort, else the request's, and where it stands.
func (s *scenario) effortOf(rider int) (effort ride.Effort, at string) {
	if own := s.field[rider].Effort; own != nil {
		return *own, s.field[rider].pointer + "/effort"
	}
	return s.effort, "#/effort"
}

// rideAlone rides a rider without the others.
func (s *scenario) rideAlone(ctx context.Context, rider int) (alone, error) {
	effort, at := s.effortOf(rider)
	who, setup := s.field[rider].Rider, s.setups[s.setupOf[rider]]
	var ridden *ride.Ride
	var planned *Planned
	var err error
	if effort.Kind == Best {
		var made *plan.Plan
		if made, err = plan.Optimise(ctx, s.road, who, setup, plan.Unlimited(), nil); err == nil {
			ridden, planned = made.Ride, &Planned{FellBack: made.FellBack}
		}
	} else {
		ridden, err = ride.Simulate(ctx, s.road, who, setup, shiftSteps(effort, s.from), nil)
	}
	if err != nil {
		return alone{}, s.faultOf(err, rider, at)
	}
	return alone{timeS: ridden.TimeS, steps: merged(ridden.Asked().Steps), used: ridden.Bike.Assumptions, planned: planned}, nil
}

// faultOf places an error of a rider's ride in the request.
func (s *scenario) faultOf(err error, rider int, effortAt string) error {
	var asked *Error
	if errors.As(err, &asked) && rider >= len(s.asked.Riders) {
		placed := *asked
		placed.Pointer = s.field[rider].pointer
		return &placed
	}
	var at *ride.Error
	if !errors.As(err, &at) {
		return err
	}
	pointer := map[string]string{
		ride.CodeNeedsPower:         s.field[rider].pointer + "/power_w",
		ride.CodeNeedsCriticalPower: s.field[rider].pointer + "/critical_power_w",
		ride.CodeTimeOutOfReach:     effortAt + "/time_s",
		ride.CodeCannotClimb:        s.field[rider].pointer,
	}[at.Code]
	return &PlacedError{Pointer: pointer, Err: shiftError(at, s.from)}
}

// merged joins neighbouring steps of the same power.
func merged(steps []ride.Step) []ride.Step {
	var out []ride.Step
	for _, step := range steps {
		if n := len(out); n > 0 && out[n-1].PowerW == step.PowerW {
			out[n-1].EndM = step.EndM
			continue
		}
		out = append(out, step)
	}
	return out
}

// entrants returns the field as a race has it.
func (s *scenario) entrants() []race.Entrant {
	out := make([]race.Entrant, len(s.field))
	for i, c := range s.field {
		out[i] = race.Entrant{Rider: c.Rider, Setup: s.setups[s.setupOf[i]], Team: c.Team, Steps: s.alone[i].steps, Orders: s.told[i]}
	}
	return out
}
