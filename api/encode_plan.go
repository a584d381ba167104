package api

import (
	"slices"
	"sort"

	"parcours.example/analysis"
	"parcours.example/analysis/plan"
	"parcours.example/analysis/ride"
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// encodePlans writes a matrix of plans as the contract has it.
func encodePlans(p *engine.Predictions, asked engine.PlanRequest) *Plans {
	return &Plans{
		CourseID: p.Course.ID, EngineVersion: analysis.EngineVersion, DistanceM: metres(p.EndM - p.StartM),
		Plans: each(p.Items, func(item engine.Prediction) Plan {
			return encodePlan(p, item, asked)
		}),
		Assumptions: each(p.Assumptions, encodeAssumption),
		Cautions:    slices.Concat([]string{planCaution}, cautionsOf(asked.Conditions.Indoor), []string{foodCaution}),
	}
}

// planCaution goes with what asks for all that a rider has.
const planCaution = "A plan asks for everything a rider has, by the numbers that were given: W′ and critical power change with form, heat and altitude. Ease off when the body says so, whatever the plan says."

// encodePlan writes what a prediction tells of the ride by the plan, and what is told
// of a plan beside it.
func encodePlan(p *engine.Predictions, item engine.Prediction, asked engine.PlanRequest) Plan {
	ridden := asked.Ride
	ridden.Trace = true
	out := Plan{Prediction: encodePrediction(p, item, ridden)}
	if item.Err != nil {
		return out
	}
	timeS, planned := item.Ride.TimeS, item.Planned
	out.ConstantPowerW, out.ConstantPowerTimeS = finite(planned.ConstantPowerW, decimalsPower), finite(planned.ConstantTimeS, decimalsM)
	out.GainS = finite(planned.ConstantTimeS-timeS, decimalsM)
	encodeHeld(&out, planned.Held, timeS, p.StartM)
	if asked.Trace {
		out.StepsTrace = encodeTrace(planned.Held.Ride.Trace, p.StartM)
	}
	if planned.Given != nil {
		given := encodePrediction(p, *planned.Given, asked.Ride)
		out.Given = &given
		if planned.Given.Ride != nil {
			out.GainOverGivenS = finite(planned.Given.Ride.TimeS-timeS, decimalsM)
		}
	}
	return out
}

// encodeHeld adds the steps of a plan that takes timeS, on a course where it begins at
// startM.
func encodeHeld(out *Plan, h *plan.Held, timeS, startM float64) {
	steps := make([]Step, len(h.Steps))
	for i, s := range h.Steps {
		steps[i] = encodeStep(s, h.Ride.Trace, startM)
	}
	out.Steps = &steps
	out.StepsTimeS, out.LostByStepsS = finite(h.Ride.TimeS, decimalsM), finite(h.Ride.TimeS-timeS, decimalsM)
	if b := h.Ride.Balance; b != nil {
		out.StepsWBalanceEndJ, out.StepsWBalanceMinJ = finite(b.EndJ, decimalsWork), finite(b.MinJ, decimalsWork)
	}
}

func encodeStep(s plan.HeldStep, t ride.Trace, startM float64) Step {
	return Step{
		StartM: finite(s.StartM+startM, decimalsM), EndM: metres(s.EndM + startM), PowerW: round(s.PowerW, decimalsPower),
		Of: optional(s.Of), Reason: optional(s.Reason),
		TimeS: finite(clockAt(t, s.EndM)-clockAt(t, s.StartM), decimalsM),
	}
}

// clockAt returns the time at a position at which the trace has a sample, as it has
// wherever a step ends.
func clockAt(t ride.Trace, atM float64) float64 {
	i := sort.SearchFloat64s(t.DistanceM, atM-sampleM)
	return t.TimeS[min(i, len(t.TimeS)-1)]
}

// sampleM is how far a trace's sample may lie from the position that it was asked for.
const sampleM = 1e-4
