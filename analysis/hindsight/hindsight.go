// Package hindsight holds a prediction against the ride that was ridden: how much of the
// difference comes from the power, from where it was spent, from drag, rolling and shelter, from
// stops, and how much nothing explains.
//
// Between prediction and ride lies a chain of simulated rides, each with one thing more as it
// was ridden. The differences from one to the next are the parts; they sum to the whole
// difference, on the course and on every stretch of it, whatever the model does. The order of
// the chain is fixed (start, power, pacing, drag, rolling, shelter), since what a watt is worth
// depends on the drag it is spent against.
package hindsight

import (
	"context"
	"math"

	"parcours.example/analysis/plan"
	"parcours.example/analysis/ridden"
	"parcours.example/analysis/ride"
)

// Case is a ride that was predicted and then ridden.
type Case struct {
	// Road is the stretch that was ridden, in the predicted conditions.
	Road  *ride.Road
	Rider ride.Rider
	Setup ride.Setup
	// Effort is the predicted one. Its steps, if it has any, are on the road's axis.
	Effort ride.Effort
	// Ridden is the recording; its positions are on the road's axis.
	Ridden ridden.Ride
	// Spans are the stretches and points that times are wanted for.
	Spans []ride.Span
	// CdAM2 and Crr are what was learnt from the ride, NaN where nothing was.
	CdAM2, Crr float64
	// Lees are stretches ridden in shelter, in order, apart from each other.
	Lees []Lee
	// Plans asks what the best plan would have brought.
	Plans bool
}

// Lee is a stretch with less drag than the rider has alone.
type Lee struct {
	StartM, EndM float64
	// Factor is the drag there over the drag alone.
	Factor float64
}

// Parts are the seconds by which each thing made the ride longer than the prediction;
// negative where it made it shorter. They sum to the whole difference.
type Parts struct {
	// StartS comes from the speed at the start, PowerS from the mean power, PacingS from when
	// and where it was spent.
	StartS, PowerS, PacingS float64
	// DragS and RollingS come from the learnt drag area and rolling resistance, ShelterS from
	// the lees.
	DragS, RollingS, ShelterS float64
	// StopsS is the time spent standing.
	StopsS float64
	// RestS is what nothing of these explains: bends, brakes, wind, the errors of the
	// elevation and of the recording, and of the model.
	RestS float64
}

// Sum is the whole difference in s.
func (p Parts) Sum() float64 {
	return p.StartS + p.PowerS + p.PacingS + p.DragS + p.RollingS + p.ShelterS + p.StopsS + p.RestS
}

// Split is a span as it was predicted and ridden. Of a point the times are those since the
// start.
type Split struct {
	ride.Span
	PredictedS, RiddenS float64
	// PredictedPowerW and RiddenPowerW are means over the time ridden, stops left out; NaN
	// without power.
	PredictedPowerW, RiddenPowerW float64
	Parts                         Parts
}

// Account is what became of a prediction.
type Account struct {
	// PredictedS is the prediction, RiddenS the ride from start to end, MovingS without stops.
	PredictedS, RiddenS, MovingS float64
	// SameEffortS is the simulated ride with the recorded start and power, and nothing else
	// changed: what would have been predicted had the power been known. NaN without power.
	SameEffortS float64
	// RiddenPowerW is the mean of the recorded power over MovingS, NaN without power;
	// UnknownPowerShare the share of MovingS without a power, where the mean was taken.
	RiddenPowerW, UnknownPowerShare float64
	// Parts are those of the whole. Without power, or where it can't be simulated, all but
	// stops is in RestS.
	Parts  Parts
	Splits []Split
	// Averaged is the length in m that recorded power had to be averaged over, since as it was
	// recorded it doesn't carry the rider up somewhere; 0 for not at all. Halt says where it
	// doesn't even so.
	Averaged float64
	Halt     *ride.Error
	// Predicted and Same are the first ride of the chain, and that with the recorded power (nil
	// without). Predicted has its trace.
	Predicted, Same *ride.Ride
	// PerKg and PerPowerPct are how SameEffortS changes with the mass moved and with one per
	// cent more power everywhere, in s.
	PerKg, PerPowerPct float64
	// PowerW is the recorded power at the ride's points, each since the point before, its gaps
	// filled; nil without.
	PowerW []float64
	// Balance is nil where the rider's capability or the power isn't known.
	Balance *Balance
	// Plan is nil unless asked for, and where the capability isn't known.
	Plan *Plan
}

// Balance is that of W′ along the recorded power.
type Balance struct {
	// TimeS and AtM are the points', J the balance there.
	TimeS, AtM, J      []float64
	MinJ, MinAtM, EndJ float64
}

// Plan is the best plan in what was learnt of the rider, against the recorded power in the same.
type Plan struct {
	// TimeS is the plan's, AsRiddenS that of the recorded power, both alone and without stops.
	TimeS, AsRiddenS float64
	// Err says why there is no plan; TimeS is NaN then.
	Err error
}

// Examine accounts for a case. Errors are those of ride.Simulate for the prediction, and the
// context's.
func Examine(ctx context.Context, c Case) (*Account, error) {
	predicted, err := ride.Simulate(ctx, c.Road, c.Rider, c.Setup, c.Effort, c.Spans)
	if err != nil {
		return nil, err
	}
	r := readingOf(c.Ridden, c.Road.LengthM())
	a := &Account{
		PredictedS: predicted.TimeS, RiddenS: r.elapsed(), MovingS: r.moving(),
		SameEffortS: math.NaN(), RiddenPowerW: r.meanW(), UnknownPowerShare: r.unknownShare(),
		Predicted: predicted,
	}
	links := []link{{ride: predicted}}
	if r.hasPower {
		if links, err = a.chain(ctx, c, r, links); err != nil {
			return nil, err
		}
		a.PowerW = append([]float64{r.powerW[0]}, r.powerW...)
		a.Balance = balanceOf(c.Rider, r)
	}
	a.tell(c, r, links)
	if c.Plans && a.Balance != nil && a.Same != nil {
		if a.Plan, err = planOf(ctx, c, r, links); err != nil {
			return nil, err
		}
	}
	return a, nil
}

// planOf plans the case with what was learnt, beside the last ride of the chain that rides alone.
func planOf(ctx context.Context, c Case, r *reading, links []link) (*Plan, error) {
	p := &Plan{TimeS: math.NaN(), AsRiddenS: math.NaN()}
	for _, l := range links {
		if l.part != shelterPart {
			p.AsRiddenS = l.ride.TimeS
		}
	}
	planned, err := plan.Optimise(ctx, starting(c.Road, r.startMPS), c.Rider, c.learnt(true), plan.Unlimited(), nil)
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	if err != nil {
		p.Err = err
		return p, nil //nolint:nilerr // it stands in the plan's place
	}
	p.TimeS = planned.Ride.TimeS
	return p, nil
}

// learnt is the set-up with the learnt drag area and, where that is asked for, rolling
// resistance.
func (c Case) learnt(rolling bool) ride.Setup {
	s := c.Setup
	if !math.IsNaN(c.CdAM2) {
		s.CdAM2 = c.CdAM2
	}
	if rolling && !math.IsNaN(c.Crr) {
		s.Crr = c.Crr
	}
	return s
}
