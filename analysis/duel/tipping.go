package duel

import (
	"context"
	"errors"
	"math"

	"parcours.example/analysis/ride"
)

// Tipping is the value of a quantity with which the two are level.
type Tipping struct {
	// Found is false where no value between Low and High does it; Value is then NaN.
	Found bool
	Value float64
	// Low and High bound the values that were tried.
	Low, High float64
	// Factor scales the lighter rider's power, or mass, to be at the value; NaN where there
	// is none. The power over body mass is averaged over time, so that where it varies the
	// value needn't be exactly that multiple.
	Factor float64
	// Feasible is false where the lighter rider's balance of W′ falls below zero at the
	// value. It is true of a mass, which is no effort, and where W′ isn't known.
	Feasible bool
}

// The bounds of the values that are tried: the factors by which power is scaled, and body
// masses in kg, which the rider's own widens.
const (
	mostFactor            = 3.0
	leastMassKg, mostMass = 30.0, 150.0
)

// contest is a search for the lighter rider's value.
type contest struct {
	road    *ride.Road
	spans   []ride.Span
	lighter Contestant
	// target is the heavier rider's ride.
	target ridden
}

// powerToFinish finds the power with which both finish at once.
func (d *contest) powerToFinish(ctx context.Context, given ridden) (Tipping, error) {
	return d.power(ctx, given, 0, d.road.LengthM())
}

// power finds the power between two positions with which the two are level at the second.
func (d *contest) power(ctx context.Context, given ridden, fromM, toM float64) (Tipping, error) {
	own := given.askedWPerKg(fromM, toM)
	t := Tipping{Value: math.NaN(), Factor: math.NaN(), Low: own / mostFactor, High: own * mostFactor}
	var last ridden
	late := func(factor float64) (float64, error) {
		var err error
		c := d.lighter
		c.Steps = scaled(c.Steps, fromM, toM, factor)
		last, err = d.ride(ctx, c)
		return d.late(last, toM, err)
	}
	factor, err := level(late, 1/mostFactor, 1, mostFactor)
	if err != nil || math.IsNaN(factor) {
		return t, err
	}
	if _, err := late(factor); err != nil {
		return t, err
	}
	t.Found, t.Feasible, t.Value, t.Factor = true, last.Feasible, last.askedWPerKg(fromM, toM), factor
	return t, nil
}

// massToFinish finds the mass with which both finish at once.
func (d *contest) massToFinish(ctx context.Context, given ridden) (Tipping, error) {
	own := given.Rider.MassKg
	t := Tipping{Value: math.NaN(), Factor: math.NaN(), Low: min(leastMassKg, own), High: max(mostMass, own)}
	late := func(massKg float64) (float64, error) {
		c := d.lighter
		drag := c.Rider.DragAreaRatio(massKg)
		c.Rider.MassKg = massKg
		c.Rider.CdAM2 *= drag // not given stays not given, and is estimated
		c.Setup.CdAM2 *= drag
		c.Steps = scaled(c.Steps, 0, math.Inf(1), massKg/own)
		r, err := d.ride(ctx, c)
		return d.late(r, d.road.LengthM(), err)
	}
	mass, err := level(late, t.Low, own, t.High)
	if err != nil || math.IsNaN(mass) {
		return t, err
	}
	t.Found, t.Feasible, t.Value, t.Factor = true, true, mass, mass/own
	return t, nil
}

// late returns how much later than the heavier rider a ride reaches a position: +Inf
// where it comes to a halt.
func (d *contest) late(r ridden, atM float64, err error) (float64, error) {
	var halt *ride.Error
	switch {
	case errors.As(err, &halt) && halt.Code == ride.CodeCannotClimb:
		return math.Inf(1), nil
	case err != nil:
		return 0, err
	}
	return r.clockAt(atM) - d.target.clockAt(atM), nil
}

func (d *contest) lastClimb(ctx context.Context, both pair, climb ride.Span) (*LastClimb, error) {
	needed, err := d.power(ctx, both.lighter, climb.StartM, climb.EndM)
	return &LastClimb{
		Stretch: both.stretch(climb),
		WPerKg:  both.lighter.askedWPerKg(climb.StartM, climb.EndM),
		Needed:  needed,
	}, err
}

// scaled returns steps whose power between two positions is multiplied by a factor.
func scaled(steps []ride.Step, fromM, toM, factor float64) []ride.Step {
	var cut []ride.Step
	start := 0.0
	add := func(endM, powerW float64) {
		if endM > start {
			cut = append(cut, ride.Step{EndM: endM, PowerW: powerW})
			start = endM
		}
	}
	for i, s := range steps {
		end := s.EndM
		if i == len(steps)-1 {
			end = math.Inf(1)
		}
		add(min(end, fromM), s.PowerW)
		add(min(end, toM), s.PowerW*factor)
		add(end, s.PowerW)
	}
	return cut
}

// The search widens by a factor until the two have changed places, and ends when its next
// step would move the value by less than a share of it.
const (
	widening  = 1.15
	precision = 1e-7
)

// level finds the zero next to a start of a function that falls, may be +Inf in a first
// part, and is known to do so between two bounds; NaN where it has none there.
func level(f func(float64) (float64, error), low, start, high float64) (float64, error) {
	at, err := f(start)
	if err != nil || at == 0 {
		return start, err
	}
	a, b := point{start, at}, point{start, at} // before and after the zero
	for a.y < 0 || b.y > 0 {
		next := &b
		x := min(b.x*widening, high)
		if at < 0 {
			next, x = &a, max(a.x/widening, low)
		}
		if x == next.x {
			return math.NaN(), nil
		}
		a, b = *next, *next
		if next.y, err = f(x); err != nil {
			return 0, err
		}
		next.x = x
	}
	return between(f, a, b)
}

// point is a place with the function's value there.
type point struct{ x, y float64 }

// between narrows down the zero between two points, by bisection while the first is +Inf
// and by regula falsi (Illinois) from there.
func between(f func(float64) (float64, error), a, b point) (float64, error) {
	kept := 0
	for range 100 {
		x := (a.x + b.x) / 2
		if !math.IsInf(a.y, 1) {
			x = a.x + (b.x-a.x)*a.y/(a.y-b.y)
		}
		y, err := f(x)
		if err != nil {
			return 0, err
		}
		if b.x-a.x <= precision*b.x || math.Abs(y)*(b.x-a.x) <= precision*x*(a.y-b.y) {
			return x, nil
		}
		if y > 0 {
			a = point{x, y}
			if kept > 0 {
				b.y /= 2
			}
			kept = 1
			continue
		}
		b = point{x, y}
		if kept < 0 && !math.IsInf(a.y, 1) {
			a.y /= 2
		}
		kept = -1
	}
	return (a.x + b.x) / 2, nil
}
