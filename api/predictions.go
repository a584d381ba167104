package api

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"slices"

	"github.com/gin-gonic/gin"

	"parcours.example/analysis/ride"
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// Predict implements POST /v1/predictions.
func (s *server) Predict(c *gin.Context, params PredictParams) {
	look := pictureParams{params.Width, params.Height, params.Theme, params.Units}
	if answeredPicture(s, c, "prediction", look, params.Include != nil, s.drawPredictions) {
		return
	}
	include := valueOr(params.Include, nil)
	traces, sensitivities := slices.Contains(include, "trace"), slices.Contains(include, "sensitivities")
	answerJSON(s, c, "prediction", func(ctx context.Context, request *PredictionRequest) (any, error) {
		asked, err := rideOf(*request)
		if err != nil {
			return nil, err
		}
		asked.Trace, asked.Sensitivities = traces, sensitivities
		found, err := s.engine.Predict(ctx, asked)
		if err != nil {
			return nil, err
		}
		request.Course = CourseReference{CourseID: &found.Course.ID}
		return encodePredictions(found, asked), nil
	}, traces, sensitivities)
}

// drawPredictions draws what a request predicts.
func (s *server) drawPredictions(ctx context.Context, request *PredictionRequest, look engine.Look) (*engine.Picture, error) {
	asked, err := rideOf(*request)
	if err != nil {
		return nil, err
	}
	drawn, err := s.engine.PredictionPicture(ctx, asked, look)
	if err == nil {
		request.Course = CourseReference{CourseID: &drawn.Course.ID}
	}
	return drawn, err
}

// requestKey names a request with everything that its answer depends on. The course
// in it must be a reference by id.
func requestKey(kind string, request ...any) (string, error) {
	canonical, err := json.Marshal(request)
	return kind + "/" + digestKey(canonical), err
}

// rideOf turns a prediction's request into the engine's.
func rideOf(request PredictionRequest) (engine.Ride, error) {
	source, err := decodeSource("#/course", request.Course)
	if err != nil {
		return engine.Ride{}, err
	}
	effort, err := decodeEffort("#/effort", request.Effort)
	if err != nil {
		return engine.Ride{}, err
	}
	return engine.Ride{
		Course: source, StartM: number(request.StartM), EndM: number(request.EndM),
		Riders: each(request.Riders, decodeRider), Setups: each(valueOr(request.Setups, nil), decodeSetup),
		Conditions: decodeConditions(request.Conditions), Surfaces: each(valueOr(request.Surfaces, nil), decodeSurface),
		Effort: effort, Doubt: decodeDoubt(request.Uncertainties, request.CoveragePct),
	}, nil
}

func decodeDoubt(p *Uncertainties, coverage *CoveragePct) *engine.Doubt {
	u := valueOr(p, Uncertainties{})
	return &engine.Doubt{CoveragePct: valueOr(coverage, engine.DefaultCoveragePct), Uncertainties: ride.Uncertainties{
		MassKg: number(u.MassKg), CdAM2: number(u.CdaM2), Crr: number(u.Crr), PowerPct: number(u.PowerPct),
		WindMps: number(u.WindMps), TemperatureC: number(u.TemperatureC), Efficiency: number(u.DrivetrainEfficiency),
	}}
}

func decodeSurface(s Surface) ride.Surface {
	return ride.Surface{StartM: s.StartM, EndM: s.EndM, CrrFactor: s.CrrFactor}
}

// effortFields gives the field that each kind of effort needs; a rider's own power and
// the best effort need none.
var effortFields = map[EffortKind]string{
	Power: "power_w", OwnPower: "", Fraction: "of_critical_power", PowerPerMass: "w_per_kg", Time: "time_s", Steps: "steps", Best: "",
}

// decodeEffort reads an effort that stands at a pointer: the field of its kind, and no
// other.
func decodeEffort(at string, e Effort) (ride.Effort, error) {
	given := map[string]bool{
		"power_w": e.PowerW != nil, "of_critical_power": e.OfCriticalPower != nil, "w_per_kg": e.WPerKg != nil,
		"time_s": e.TimeS != nil, "steps": e.Steps != nil,
	}
	needed := effortFields[e.Kind]
	if needed != "" && !given[needed] {
		return ride.Effort{}, invalidField(at+"/"+needed, "missing", fmt.Sprintf("an effort of kind %q needs %s", e.Kind, needed))
	}
	for field, is := range given {
		if is && field != needed {
			return ride.Effort{}, invalidField(at, "not-allowed", fmt.Sprintf("an effort of kind %q takes %s and nothing else", e.Kind, cmp.Or(needed, "its kind")))
		}
	}
	out := ride.Effort{
		Kind: ride.EffortKind(e.Kind), PowerW: number(e.PowerW), OfCriticalPower: number(e.OfCriticalPower),
		WPerKg: number(e.WPerKg), TimeS: number(e.TimeS),
	}
	var err error
	out.Steps, err = decodeSteps(at+"/steps", valueOr(e.Steps, nil))
	return out, err
}

// gapM is how far a step's start may lie from the end of the one before: no more
// than positions are rounded by.
const gapM = 0.01

// decodeSteps reads steps that stand at a pointer, none of which ends before the one
// before or starts elsewhere than it ends. Steps of no length, as rounding makes them
// of close samples of a trace, are left out.
func decodeSteps(pointer string, steps []Step) ([]ride.Step, error) {
	var out []ride.Step
	end := 0.0
	for i, s := range steps {
		at := fmt.Sprintf("%s/%d/", pointer, i)
		switch {
		case s.EndM < end:
			return nil, invalidField(at+"end_m", "out-of-order", "the step ends before the one before")
		case i > 0 && s.StartM != nil && math.Abs(*s.StartM-end) > gapM:
			return nil, invalidField(at+"start_m", "out-of-order", "the step doesn't start where the one before ends")
		case s.EndM > end:
			out = append(out, ride.Step{EndM: s.EndM, PowerW: s.PowerW})
		}
		end = s.EndM
	}
	if len(steps) > 0 && len(out) == 0 {
		return nil, invalidField(pointer+"/0/end_m", "out-of-order", "the step ends where the course starts")
	}
	return out, nil
}
