package plan

import (
	"context"
	"fmt"
	"math"

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
		return p, nil
	}
	s, err := t.search(ctx, constant)
	if err == nil {
		err = p.take(ctx, t, s, spans)
	}
	if err == nil && p.FellBack {
		// Rare: laws of recovery that aren't convex.
		if s, err = t.improve(ctx, constant, powerW); err == nil {
			err = p.take(ctx, t, s, spans)
		}
	}
	return p, err
}

// take makes the powers that a search found the plan's, where they are faster.
func (p *Plan) take(ctx context.Context, t *task, s *sweeper, spans []ride.Span) error {
	for range 1 + mostCorrections {
		f, err := t.fit(ctx, s.steps(s.x), spans)
		if err != nil {
			return err
		}
		if f.ride != nil && f.ride.TimeS < p.Ride.TimeS {
			p.Powers, p.Ride, p.FellBack, p.outcome = f.steps, f.ride, false, s.outcome()
		}
		if f.first == nil || f.first.Balance == nil || s.stock.law == account || f.lossJ() < worthJ {
			return nil
		}
		if err := s.correct(ctx, f.first); err != nil {
			return err
		}
	}
	return nil
}

// mostCorrections is how often a plan is corrected by the true ride, worthJ how much
// stock must be at stake.
const (
	mostCorrections = 2
	worthJ          = 30.0
)

func newTask(road *ride.Road, rider ride.Rider, setup ride.Setup, limits Limits) (*task, error) {
	t := &task{road: road, rider: rider, setup: setup, limits: limits}
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

// limitFactor times critical power is the limit of a rider whose maximal power isn't
// known, as long as W′ lasts.
const limitFactor = 4.0

// limitW returns the highest power the rider can give at a balance of W′.
func (t *task) limitW(balanceJ float64) float64 {
	c := t.capacity
	switch {
	case !math.IsNaN(t.limits.MeanPowerW):
		return math.Inf(1)
	case !math.IsNaN(t.rider.MaxPowerW):
		return c.CriticalPowerW + (t.rider.MaxPowerW-c.CriticalPowerW)*balanceJ/c.WPrimeJ
	}
	return limitFactor * c.CriticalPowerW
}
