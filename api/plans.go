package api

import (
	"slices"

	"github.com/gin-gonic/gin"

	"parcours.example/analysis/plan"
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// Plan implements POST /v1/plans.
func (s *server) Plan(c *gin.Context, params PlanParams) {
	if accepted(c.GetHeader("Accept"), jsonMediaType) == "" {
		writeProblem(c, notAcceptable(jsonMediaType))
		return
	}
	var request PlanRequest
	asked, err := decodePlan(requestBody(c), &request)
	if err != nil {
		s.fail(c, err)
		return
	}
	include := valueOr(params.Include, nil)
	asked.Trace, asked.Sensitivities = slices.Contains(include, "trace"), slices.Contains(include, "sensitivities")
	planned, err := s.engine.Plan(c.Request.Context(), asked)
	if err != nil {
		s.fail(c, err)
		return
	}
	request.Course = CourseReference{CourseID: &planned.Course.ID}
	key, err := requestKey("plan", request, asked.Trace, asked.Sensitivities)
	if err != nil {
		s.fail(c, err)
		return
	}
	s.replyJSON(c, encodePlans(planned, asked), key)
}

// decodePlan reads a plan's request: a prediction's of the best effort, the bounds and
// the rider's own effort.
func decodePlan(body []byte, request *PlanRequest) (engine.PlanRequest, error) {
	if err := decodeJSON(body, request); err != nil {
		return engine.PlanRequest{}, err
	}
	asked, err := rideOf(PredictionRequest{
		Course: request.Course, StartM: request.StartM, EndM: request.EndM, Riders: request.Riders, Setups: request.Setups,
		Conditions: request.Conditions, Surfaces: request.Surfaces, Effort: Effort{Kind: Best},
		Uncertainties: request.Uncertainties, CoveragePct: request.CoveragePct,
	})
	if err != nil {
		return engine.PlanRequest{}, err
	}
	out := engine.PlanRequest{Ride: asked, Limits: decodeBounds(request)}
	if request.GivenEffort == nil {
		return out, nil
	}
	if request.GivenEffort.Kind == Best {
		return out, invalidField("#/given_effort/kind", "not-allowed", "the best effort is the plan itself; give an effort of another kind")
	}
	given, err := decodeEffort("#/given_effort", *request.GivenEffort)
	out.Given = &given
	return out, err
}

// decodeBounds reads the limits of a plan.
func decodeBounds(request *PlanRequest) plan.Limits {
	b := valueOr(request.Bounds, PlanBounds{})
	return plan.Limits{
		MinPowerW: number(b.MinPowerW), MaxPowerW: number(b.MaxPowerW), ChangeWPerS: number(b.ChangeWPerS),
		MeanPowerW: number(b.MeanPowerW), EndReserveJ: number(request.EndReserveJ),
	}
}
