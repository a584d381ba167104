package hindsight

import (
	"context"
	"errors"
	"math"
	"slices"

	"parcours.example/analysis/ride"
)

// part is what a link of the chain changes.
type part int

const (
	nothing part = iota
	startPart
	powerPart
	pacingPart
	dragPart
	rollingPart
	shelterPart
)

// link is a ride of the chain, and what in it is as it was ridden that wasn't in the one
// before.
type link struct {
	part part
	ride *ride.Ride
}

// chain rides what lies between the prediction and the ride.
func (a *Account) chain(ctx context.Context, c Case, r *reading, links []link) ([]link, error) {
	road := starting(c.Road, r.startMPS)
	var failed error
	add := func(p part, simulate func() (*ride.Ride, error)) bool {
		if failed != nil {
			return false
		}
		got, err := simulate()
		switch halt := (*ride.Error)(nil); {
		case err == nil:
			links = append(links, link{p, got})
		case ctx.Err() != nil:
			failed = ctx.Err()
		case !errors.As(err, &halt):
			failed = err
		}
		return err == nil
	}
	add(startPart, func() (*ride.Ride, error) {
		return ride.Simulate(ctx, road, c.Rider, c.Setup, a.Predicted.Asked(), c.Spans)
	})
	add(powerPart, func() (*ride.Ride, error) { return scaled(ctx, c, road, a.Predicted, a.RiddenPowerW) })
	effort := ride.Effort{Kind: ride.BySteps}
	rode := false
	for _, over := range []float64{0, 50, 200, 1000} {
		effort.Steps = r.steps(over)
		if rode = add(pacingPart, func() (*ride.Ride, error) {
			got, err := ride.Simulate(ctx, road, c.Rider, c.Setup, effort, c.Spans)
			var halt *ride.Error
			if errors.As(err, &halt) {
				a.Halt = halt
			}
			return got, err
		}); rode || failed != nil {
			a.Averaged = over
			break
		}
	}
	if failed != nil || !rode {
		return links[:1], failed
	}
	a.Halt = nil
	a.Same = links[len(links)-1].ride
	a.SameEffortS = a.Same.TimeS
	whole := a.Same.Sensitivities(road).Whole
	a.PerKg, a.PerPowerPct = whole.PerKg, whole.PerPowerPct
	if !math.IsNaN(c.CdAM2) {
		add(dragPart, func() (*ride.Ride, error) {
			return ride.Simulate(ctx, road, c.Rider, c.learnt(false), effort, c.Spans)
		})
	}
	if !math.IsNaN(c.Crr) {
		add(rollingPart, func() (*ride.Ride, error) {
			return ride.Simulate(ctx, road, c.Rider, c.learnt(true), effort, c.Spans)
		})
	}
	if len(c.Lees) > 0 {
		add(shelterPart, func() (*ride.Ride, error) {
			return ride.SimulateStints(ctx, road, c.Rider, stints(c, road), effort, c.Spans)
		})
	}
	return links, failed
}

// starting is a road with another speed at the start.
func starting(road *ride.Road, mps float64) *ride.Road {
	other := *road
	other.Conditions.StartSpeedMps = mps
	return &other
}

// closeW is how near the mean power of a scaled effort comes to the recorded one, in W.
const closeW = 0.05

// scaled rides the predicted effort, all in proportion, with another mean power.
func scaled(ctx context.Context, c Case, road *ride.Road, predicted *ride.Ride, meanW float64) (*ride.Ride, error) {
	factor, had := 1.0, predicted.MeanPowerW
	var got *ride.Ride
	for range 6 {
		if had > 0 {
			factor *= meanW / had
		}
		effort := ride.Effort{Kind: ride.BySteps, Steps: slices.Clone(predicted.Asked().Steps)}
		for i := range effort.Steps {
			effort.Steps[i].PowerW *= factor
		}
		next, err := ride.Simulate(ctx, road, c.Rider, c.Setup, effort, c.Spans)
		if err != nil {
			return nil, err
		}
		got, had = next, next.MeanPowerW
		if math.Abs(had-meanW) < closeW {
			break
		}
	}
	return got, nil
}

// stints are the road with its lees.
func stints(c Case, road *ride.Road) []ride.Stint {
	setup, alone := c.learnt(true), math.NaN()
	var out []ride.Stint
	at, length := 0.0, road.LengthM()
	own := road.Conditions.Shelter
	for _, lee := range c.Lees {
		if lee.StartM > at+1 {
			out = append(out, ride.Stint{EndM: lee.StartM, Setup: setup, Shelter: alone})
			at = lee.StartM
		}
		if end := min(lee.EndM, length); end > at+1 {
			out = append(out, ride.Stint{EndM: end, Setup: setup, Shelter: min(lee.Factor*own, 1)})
			at = end
		}
	}
	if at < length-1 {
		return append(out, ride.Stint{EndM: math.Inf(1), Setup: setup, Shelter: alone})
	}
	out[len(out)-1].EndM = math.Inf(1)
	return out
}
