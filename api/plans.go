package api

import (
	"context"
	"slices"

	"github.com/gin-gonic/gin"

	"parcours.example/analysis/plan"
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// Plan implements POST /v1/plans.
func (s *server) Plan(c *gin.Context, params PlanParams) {
	look := pictureParams{params.Width, params.Height, params.Theme, params.Units}
	if answeredPicture(s, c, "plan", look, params.Include != nil, s.drawPlans) {
		return
	}
	include := valueOr(params.Include, nil)
	traces, sensitivities := slices.Contains(include, "trace"), slices.Contains(include, "sensitivities")
	answerJSON(s, c, "plan", func(ctx context.Context, request *PlanRequest) (any, error) {
		asked, err := decodePlan(request)
		if err != nil {
			return nil, err
		}
		asked.Trace, asked.Sensitivities = traces, sensitivities
		found, err := s.engine.Plan(ctx, asked)
		if err != nil {
			return nil, err
		}
		request.Course = CourseReference{CourseID: &found.Course.ID}
		return encodePlans(found, asked), nil
	}, traces, sensitivities)
}

// drawPlans draws what a request plans.
func (s *server) drawPlans(ctx context.Context, request *PlanRequest, look engine.Look) (*engine.Picture, error) {
	asked, err := decodePlan(request)
	if err != nil {
		return nil, err
	}
	drawn, err := s.engine.PlanPicture(ctx, asked, look)
	if err == nil {
		request.Course = CourseReference{CourseID: &drawn.Course.ID}
	}
	return drawn, err
}

// decodePlan reads a plan's request: a prediction's of the best effort, the bounds and
// the rider's own effort.
func decodePlan(request *PlanRequest) (engine.PlanRequest, error) {
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
