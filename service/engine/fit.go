package engine

import (
	"context"
	"errors"
	"fmt"
	"math"

	"parcours.example/analysis/capability"
)

// Efforts are what a rider's capability is to be told from.
type Efforts struct {
	Efforts []capability.Effort
	// DurationsS are those in s for which each fit's power is asked; none for the
	// default ones.
	DurationsS []float64
	// PowersW are those in W of which it is asked how long they can be held.
	PowersW []float64
}

// Fitted is a rider's capability with what each fit makes of durations and powers.
type Fitted struct {
	*capability.Capability
	// Curves and Held have an entry for each of Fits.
	Curves [][]CurvePoint
	Held   [][]HeldPower
}

// CurvePoint is the power that can be held for a duration.
type CurvePoint struct {
	DurationS, PowerW float64
	// ErrorW is one standard error, NaN where it can't be told.
	ErrorW float64
	// Extrapolated says that the duration is outside the efforts'.
	Extrapolated bool
}

// HeldPower is how long a power can be held.
type HeldPower struct {
	PowerW float64
	// DurationS is +Inf for powers that aren't above critical power.
	DurationS float64
	// ErrorS is one standard error, NaN where it can't be told.
	ErrorS float64
}

// defaultDurationsS are told where none are asked for; with two parameters those below
// leastOfTwoS are left out, where that model doesn't hold.
var defaultDurationsS = [...]float64{5, 15, 30, 60, 120, 180, 300, 480, 720, 1200, 1800, 3600}

const leastOfTwoS = 120.0

// Fit tells a rider's capability from efforts. Errors: *capability.Error where there is
// no fit of any kind, *Error with its place for an effort out of its range.
func (e *Engine) Fit(ctx context.Context, asked Efforts) (*Fitted, error) {
	_, leave, err := e.admit.enter(ctx, 0)
	if err != nil {
		return nil, err
	}
	defer leave()
	defer e.meter.time(ctx, stageFit)()
	return guard(func() (*Fitted, error) { return fit(asked) })
}

func fit(asked Efforts) (*Fitted, error) {
	c, err := capability.Determine(asked.Efforts)
	var refused *capability.Error
	if errors.As(err, &refused) && refused.Code == capability.CodeInvalid {
		return nil, &Error{Code: CodeInvalid, Pointer: effortPointer(refused.Effort), Detail: refused.Detail}
	}
	if err != nil {
		return nil, err
	}
	shortest, longest := math.Inf(1), 0.0
	for _, e := range asked.Efforts {
		shortest, longest = min(shortest, e.DurationS), max(longest, e.DurationS)
	}
	out := &Fitted{Capability: c}
	for i := range c.Fits {
		f := &c.Fits[i]
		curve := curveOf(f, asked.DurationsS)
		for j, p := range curve {
			curve[j].Extrapolated = p.DurationS < shortest || p.DurationS > longest
		}
		held := make([]HeldPower, len(asked.PowersW))
		for j, p := range asked.PowersW {
			held[j] = HeldPower{PowerW: p, DurationS: f.DurationS(p), ErrorS: f.DurationErrorS(p)}
		}
		out.Curves, out.Held = append(out.Curves, curve), append(out.Held, held)
	}
	return out, nil
}

// effortPointer is the place of an effort in a request, −1 for that of all.
func effortPointer(i int) string {
	if i < 0 {
		return "#/efforts"
	}
	return fmt.Sprintf("#/efforts/%d", i)
}

func curveOf(f *capability.Fit, durationsS []float64) []CurvePoint {
	var curve []CurvePoint
	add := func(s float64) {
		curve = append(curve, CurvePoint{DurationS: s, PowerW: f.PowerW(s), ErrorW: f.PowerErrorW(s)})
	}
	for _, s := range durationsS {
		add(s)
	}
	if len(durationsS) > 0 {
		return curve
	}
	for _, s := range defaultDurationsS {
		if s >= leastOfTwoS || f.Kind.Parameters() > 2 {
			add(s)
		}
	}
	return curve
}
