package plan

import (
	"context"
	"fmt"
	"math"
	"slices"

	"parcours.example/analysis/ride"
)

// Limits bound a plan. NaN means not asked for in every field.
type Limits struct {
	// MinPowerW and MaxPowerW bound the power, beside what the rider can do.
	MinPowerW, MaxPowerW float64
	// EndReserveJ is the balance of W′ that must be left at the end; default 0.
	EndReserveJ float64
	// ChangeWPerS bounds how fast the power may change.
	ChangeWPerS float64
	// MeanPowerW bounds the time-mean of the power, in the place of critical power and
	// W′: for riders who know what they can hold for the course and no more.
	MeanPowerW float64
}

// Unlimited are limits of which none is asked for.
func Unlimited() Limits {
	unset := math.NaN()
	return Limits{MinPowerW: unset, MaxPowerW: unset, EndReserveJ: unset, ChangeWPerS: unset, MeanPowerW: unset}
}

// Plan is a ride in the least time within a rider's limits.
type Plan struct {
	// Powers are the plan: what is asked of the rider, piece by piece.
	Powers []ride.Step
	// Ride is how it is ridden, by the one motion model.
	Ride *ride.Ride
	// Constant is the best constant power within the same limits, ConstantPowerW.
	ConstantPowerW float64
	Constant       *ride.Ride
	// FellBack is true where nothing better than the constant power was found.
	FellBack bool

	outcome outcome
}

// task is what is asked.
type task struct {
	road   *ride.Road
	rider  ride.Rider
	setup  ride.Setup
	limits Limits
	// bike is the rider on the set-up.
	bike *ride.Bike
	// capacity is the rider's reserve; it isn't used under a limit of the mean power.
	capacity ride.Reserve
}

// Optimise plans a ride over a road. The plan keeps to the rider's limit everywhere: the
// balance of W′ stays at or above zero and ends at the reserve or above it, and the power
// stays at or below CP + (P_max − CP)·W/W′₀ where a maximal power is given, else at or
// below 4·CP. It is never slower than the best constant power. The spans become the
// splits of both rides. Errors are the context's and *ride.Error: CodeNeedsCriticalPower
// where critical power or W′ isn't given, CodeInvalid for limits that exclude each other,
// CodeCannotClimb.
func Optimise(ctx context.Context, road *ride.Road, rider ride.Rider, setup ride.Setup, limits Limits, spans []ride.Span) (*Plan, error) {
	t, err := newTask(road, rider, setup, limits)
	if err != nil {
		return nil, err
	}
	powerW, constant, highest, err := t.bestConstant(ctx, spans)
	if err != nil {
		return nil, err
	}
	p := &Plan{
		Powers: []ride.Step{{EndM: road.LengthM(), PowerW: powerW}}, Ride: constant,
		ConstantPowerW: powerW, Constant: constant, FellBack: !highest,
	}
	if highest {
		return p, t.spare(ctx, p, spans)
	}
	scouts, err := t.scouts(ctx, constant)
	work := 0
	for i := 0; err == nil && i < len(scouts) && work < mostWork; i++ {
		var s *sweeper
		if s, err = t.refine(ctx, scouts[i]); err == nil {
			err = p.take(ctx, t, s, spans)
			work += s.sweeps * len(s.cells)
		}
	}
	if err == nil && p.FellBack {
		// Rare: laws of recovery that aren't convex.
		var s *sweeper
		if s, err = t.improve(ctx, constant, powerW); err == nil {
			err = p.take(ctx, t, s, spans)
		}
	}
	return p, err
}

// spare takes from a plan at the highest power what has no effect, as where it is too fast
// to pedal.
func (t *task) spare(ctx context.Context, p *Plan, spans []ride.Span) error {
	if t.limits.ChangeWPerS > 0 {
		return nil
	}
	trace := &p.Ride.Trace
	var used []ride.Step
	for i, at := range trace.DistanceM[1:] {
		used = append(used, ride.Step{EndM: at, PowerW: trace.PowerW[i]})
	}
	ridden, err := t.simulate(ctx, used, spans)
	if err != nil && !halts(err) {
		return err
	}
	if err == nil && ridden.TimeS <= p.Ride.TimeS && t.room(ridden) >= 0 {
		p.Powers, p.Ride = used, ridden
	}
	return nil
}

// take makes the powers that a search found the plan's, where they are faster.
func (p *Plan) take(ctx context.Context, t *task, s *sweeper, spans []ride.Span) error {
	for range 1 + mostCorrections {
		f, err := t.fit(ctx, s.steps(s.x), spans)
		if err != nil || f.first == nil {
			return err
		}
		steep := 0.0 // the fastest change over the bound
		if f.ride != nil {
			steep = fastestChange(f.steps, &f.ride.Trace) / t.limits.ChangeWPerS
		}
		if steep > 1 {
			if err := t.even(ctx, &f, spans); err != nil {
				return err
			}
		}
		better := f.ride != nil && f.ride.TimeS < p.Ride.TimeS
		if better {
			p.Powers, p.Ride, p.FellBack, p.outcome = f.steps, f.ride, false, s.outcome()
		}
		if !(steep > 1) && (!better || s.stock.law == account || f.lossJ() < worthShare*f.first.WorkJ) {
			return nil
		}
		s.ease(t.limits.ChangeWPerS/max(steep, 1), f.first.Trace)
		if err := s.correct(ctx, f.first); err != nil {
			return err
		}
	}
	return nil
}

// even takes from the powers of a fitting what makes them change too fast, and rides them
// anew. The fitting has no ride where that doesn't keep to the limits.
func (t *task) even(ctx context.Context, f *fitting, spans []ride.Span) error {
	steps := slices.Clone(f.steps)
	at := middlesOf(steps, &f.ride.Trace)
	most := func(i, from int) float64 {
		return steps[from].PowerW + float64(0.999*t.limits.ChangeWPerS*math.Abs(at[i]-at[from]))
	}
	for i := 1; i < len(steps); i++ {
		steps[i].PowerW = min(steps[i].PowerW, most(i, i-1))
	}
	for i := len(steps) - 2; i >= 0; i-- {
		steps[i].PowerW = min(steps[i].PowerW, most(i, i+1))
	}
	ridden, err := t.simulate(ctx, steps, spans)
	if err != nil && !halts(err) {
		return err
	}
	f.ride = nil
	if err == nil && t.room(ridden) >= 0 && fastestChange(steps, &ridden.Trace) <= t.limits.ChangeWPerS {
		f.steps, f.ride = steps, ridden
	}
	return nil
}

// fastestChange is the fastest change of power from step to step in W/s, between their
// middles by a ride's clock.
func fastestChange(steps []ride.Step, ridden *ride.Trace) float64 {
	fastest, at := 0.0, middlesOf(steps, ridden)
	for i := 1; i < len(steps); i++ {
		fastest = max(fastest, math.Abs(steps[i].PowerW-steps[i-1].PowerW)/(at[i]-at[i-1]))
	}
	return fastest
}

func middlesOf(steps []ride.Step, ridden *ride.Trace) []float64 {
	return middles(len(steps), func(k int) float64 { return steps[k].EndM }, ridden)
}

// mostWork is the work, in sweeps of a cell, after which no other scout is followed.
const mostWork = 1_500_000

// mostCorrections is how often a plan is corrected by the true ride, worthShare how much
// stock must be at stake, in shares of the ride's work.
const (
	mostCorrections = 3
	worthShare      = 1e-4
)

func newTask(road *ride.Road, rider ride.Rider, setup ride.Setup, limits Limits) (*task, error) {
	bike, err := ride.NewBike(rider, setup, road.Conditions)
	if err != nil {
		return nil, err
	}
	t := &task{road: road, rider: rider, setup: setup, limits: limits, bike: &bike}
	if math.IsNaN(t.limits.EndReserveJ) {
		t.limits.EndReserveJ = 0
	}
	capacity, ok := ride.NewReserve(rider)
	t.capacity = capacity
	switch {
	case !math.IsNaN(limits.MeanPowerW):
	case !ok:
		return nil, &ride.Error{
			Code: ride.CodeNeedsCriticalPower, AtM: math.NaN(),
			Detail: "a plan needs the rider's critical_power_w and w_prime_j, or a limit of the mean power",
		}
	case t.limits.EndReserveJ > capacity.WPrimeJ:
		return nil, refused("the end reserve of %v J is more than the rider's W′ of %v J", limits.EndReserveJ, capacity.WPrimeJ)
	case limits.MinPowerW > capacity.CriticalPowerW:
		return nil, refused("a least power of %v W is above the rider's critical power of %v W", limits.MinPowerW, capacity.CriticalPowerW)
	}
	if limits.MinPowerW > limits.MaxPowerW {
		return nil, refused("a least power of %v W is above the highest, %v W", limits.MinPowerW, limits.MaxPowerW)
	}
	return t, nil
}

func refused(format string, args ...any) error {
	return &ride.Error{Code: ride.CodeInvalid, AtM: math.NaN(), Detail: fmt.Sprintf(format, args...)}
}

// limitW returns the highest power the rider can give at a balance of W′.
func (t *task) limitW(balanceJ float64) float64 {
	if !math.IsNaN(t.limits.MeanPowerW) {
		return math.Inf(1)
	}
	return t.rider.PowerLimitW(balanceJ)
}
