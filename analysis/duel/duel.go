// Package duel holds a heavier rider against a lighter one, each riding alone: where
// either gains, how they stand at the foot of the last climb and at the finish, and how
// much more power per mass, or mass, the lighter one would need to be level.
//
// At equal power per body mass the heavier rider is faster: on the flat because drag grows
// more slowly than mass does, on a climb, by less, because the bicycle weighs the same for
// both. Who is lighter comes back only with more power per mass.
package duel

import (
	"context"

	"parcours.example/analysis/ride"
)

// Contestant is a rider on a set-up with the power that is given.
type Contestant struct {
	Rider ride.Rider
	Setup ride.Setup
	// Steps are the power, as an effort of ride.BySteps has it.
	Steps []ride.Step
}

// Question is who rides against whom. Positions are on the road.
type Question struct {
	Heavier, Lighter Contestant
	// Spans are the stretches and points that times are wanted for.
	Spans []ride.Span
	// LastClimb is the last pass of the last climb, nil without one.
	LastClimb *ride.Span
}

// Answer is how the duel goes. A gap is the lighter rider's time less the heavier's in s,
// positive where the lighter one is behind; a gain is what a gap shrinks by.
type Answer struct {
	Heavier, Lighter Rider
	// GapS is the gap at the finish.
	GapS float64
	// Stretches stand in the order of the question's spans.
	Stretches []Stretch
	// Ground holds what goes up, what is level and what goes down, in this order.
	Ground [3]Ground
	// Gaps are those along the road at 200 places, evenly from its start to its end.
	Gaps []Gap
	// LastClimb is nil where the question has none.
	LastClimb *LastClimb
	// Power is the lighter rider's power over body mass in W/kg, averaged over the time of
	// the ride with all of the effort scaled, with which both reach the finish at once.
	Power Tipping
	// Mass is the lighter rider's body mass in kg with which they do, at the same power per
	// mass. The drag area follows the mass as the frontal area does.
	Mass Tipping
}

// Rider is how one of the two rides.
type Rider struct {
	Name   string
	MassKg float64
	// WPerKg is the power asked for over body mass, averaged over the time of the ride. Less
	// is given where nobody pedals.
	WPerKg float64
	TimeS  float64
	// Feasible is false where the balance of W′ falls below zero.
	Feasible bool
}

// Stretch is a stretch of the road, or a point where both ends are one.
type Stretch struct {
	ride.Span
	// HeavierS and LighterS are the times that it takes.
	HeavierS, LighterS float64
	// HeavierClockS and LighterClockS are the times since the start at its end.
	HeavierClockS, LighterClockS float64
	// StartGapS and EndGapS are the gaps at its ends.
	StartGapS, EndGapS float64
}

// GainS returns what the lighter rider gains on the stretch in s, negative for a loss.
func (s Stretch) GainS() float64 { return s.HeavierS - s.LighterS }

// Gap is the gap at a place.
type Gap struct{ AtM, GapS float64 }

// LastClimb is what the last climb decides.
type LastClimb struct {
	Stretch
	// WPerKg is the lighter rider's power asked for on it over body mass.
	WPerKg float64
	// Needed is the power over body mass in W/kg on the climb alone, averaged over its time,
	// with which the lighter rider makes good at its top what is lost before it.
	Needed Tipping
}

// ClosableS returns the gap at the foot in s that the lighter rider could just close on
// the climb as ridden; 0 where it takes the lighter one longer.
func (c *LastClimb) ClosableS() float64 { return max(c.GainS(), 0) }

// Ride rides the duel. Errors are the context's and those of ride.Simulate for the two as
// they are given.
func Ride(ctx context.Context, road *ride.Road, q Question) (*Answer, error) {
	d := contest{road: road, spans: q.cuts(road.LengthM()), lighter: q.Lighter}
	heavier, err := d.ride(ctx, q.Heavier)
	if err != nil {
		return nil, err
	}
	lighter, err := d.ride(ctx, q.Lighter)
	if err != nil {
		return nil, err
	}
	d.target = heavier
	both := pair{heavier, lighter}
	a := &Answer{
		Heavier: heavier.told(), Lighter: lighter.told(),
		GapS: both.gapAt(road.LengthM()), Stretches: both.stretches(q.Spans),
		Ground: both.ground(road), Gaps: both.gaps(road.LengthM()),
	}
	if a.Power, err = d.powerToFinish(ctx, lighter); err != nil {
		return nil, err
	}
	if a.Mass, err = d.massToFinish(ctx, lighter); err != nil {
		return nil, err
	}
	if q.LastClimb != nil {
		a.LastClimb, err = d.lastClimb(ctx, both, *q.LastClimb)
	}
	return a, err
}
