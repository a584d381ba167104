package engine

import (
	"context"
	"fmt"
	"math"

	"parcours.example/analysis/plan"
	"parcours.example/analysis/ride"
)

// Best is the effort that takes the least time within what a rider can do: a plan
// without bounds. Package ride knows the other kinds; this one is made, then ridden.
const Best ride.EffortKind = "best"

// PlanRequest is what is asked of plans.
type PlanRequest struct {
	// Ride says who rides where. Its effort is Best whatever it says; its Trace asks for
	// the traces of the steps and of the given effort, beside those of the plans, which
	// are always kept.
	Ride
	Limits plan.Limits
	// Given is the riders' own effort, to be told beside the plan; nil for none.
	Given *ride.Effort
}

// Planned is what is told of a plan beside its ride.
type Planned struct {
	// ConstantPowerW is the best constant power within the same limits, ConstantTimeS
	// the time that it takes.
	ConstantPowerW, ConstantTimeS float64
	// FellBack is true where nothing better than the constant power was found.
	FellBack bool
	// Held is the plan in steps, on the ride's own axis; nil for a prediction.
	Held *plan.Held
	// Given is the ride of the given effort; nil where none is.
	Given *Prediction
}

// Plan plans the rides of all riders on all set-ups over a course. Each of the answer's
// items has its Planned and its trace. Failures are those of Predict; a rider's law of
// recovery, capability or bounds that don't allow a plan are *Error with their place.
func (e *Engine) Plan(ctx context.Context, r PlanRequest) (*Predictions, error) {
	r.Effort = ride.Effort{Kind: Best}
	return e.predict(ctx, r.Ride, &planning{limits: r.Limits, given: r.Given, traces: r.Trace})
}

// planning is what is asked of plans that are told in full.
type planning struct {
	limits plan.Limits
	given  *ride.Effort
	// traces keeps those of the steps and of the given effort.
	traces bool
}

// plan plans the ride of p's rider and set-up.
func (m matrix) plan(ctx context.Context, w way, p *Prediction) error {
	rider, setup := m.riders[p.RiderIndex], m.setups[p.SetupIndex]
	limits := plan.Unlimited()
	if m.planning != nil {
		limits = m.planning.limits
	}
	if fault := planFault(limits, rider, p.RiderIndex); fault != nil {
		return fault
	}
	made, err := plan.Optimise(ctx, w.road, rider, setup, limits, w.splits)
	if err != nil {
		return err
	}
	p.Ride = made.Ride
	p.Planned = &Planned{ConstantPowerW: made.ConstantPowerW, ConstantTimeS: made.Constant.TimeS, FellBack: made.FellBack}
	if m.planning == nil {
		return nil
	}
	p.Planned.Held, err = plan.Hold(ctx, w.road, rider, setup, limits, made, w.places, w.splits)
	if err != nil {
		return err
	}
	if m.planning.given != nil {
		given := m.predictAt(ctx, w, p.RiderIndex, p.SetupIndex, *m.planning.given)
		if given.Ride != nil && !m.planning.traces {
			given.Ride.Trace = ride.Trace{}
		}
		p.Planned.Given = &given
	}
	return nil
}

// planFault says which part of the request excludes a plan for a rider; nil for none.
func planFault(l plan.Limits, r ride.Rider, rider int) error {
	byMean := !math.IsNaN(l.MeanPowerW)
	ofRider := func(field string) string { return fmt.Sprintf("#/riders/%d/%s", rider, field) }
	missing := func(field string) error {
		return &Error{
			Code: ride.CodeNeedsCriticalPower, Pointer: ofRider(field),
			Detail: fmt.Sprintf("A plan needs the rider's critical_power_w and w_prime_j; rider %d has no %s.", rider+1, field),
		}
	}
	fault := func(pointer, format string, args ...any) error {
		return &Error{Code: CodeNotComputable, Pointer: pointer, Detail: fmt.Sprintf(format, args...)}
	}
	switch least := l.MinPowerW; {
	case r.RecoveryLaw == ride.Integral2012:
		return fault(ofRider("recovery_law"), "The law integral_2012 needs the whole ride before it tells any of it, so that nothing can be planned by it; choose proportional or bartram_2018.")
	case least > l.MaxPowerW:
		return fault("#/bounds/min_power_w", "The least power of %v W is above the highest of %v W.", least, l.MaxPowerW)
	case byMean && least > l.MeanPowerW:
		return fault("#/bounds/min_power_w", "The least power of %v W is above the mean power of %v W.", least, l.MeanPowerW)
	case byMean && !math.IsNaN(l.EndReserveJ):
		return fault("#/end_reserve_j", "With bounds.mean_power_w the balance of W′ doesn't limit the plan; leave end_reserve_j out.")
	case byMean:
		return nil
	case math.IsNaN(r.CriticalPowerW):
		return missing("critical_power_w")
	case math.IsNaN(r.WPrimeJ):
		return missing("w_prime_j")
	case r.MaxPowerW < r.CriticalPowerW:
		return fault(ofRider("max_power_w"), "The maximal power of %v W is below the critical power of %v W.", r.MaxPowerW, r.CriticalPowerW)
	case least > r.CriticalPowerW:
		return fault("#/bounds/min_power_w", "The least power of %v W is above the critical power of rider %d, %v W.", least, rider+1, r.CriticalPowerW)
	case l.EndReserveJ > r.WPrimeJ:
		return fault("#/end_reserve_j", "The reserve of %v J is more than W′ of rider %d, %v J.", l.EndReserveJ, rider+1, r.WPrimeJ)
	}
	return nil
}

// countPlans counts the plans among the items.
func (e *Engine) countPlans(items []Prediction) {
	for _, item := range items {
		e.countPlan(item.Planned)
	}
}

// countPlan counts a plan; nil is none.
func (e *Engine) countPlan(p *Planned) {
	if p == nil {
		return
	}
	e.meter.plans.Inc()
	if p.FellBack {
		e.meter.fellBack.Inc()
	}
}
