package api

import (
	"context"

	"github.com/gin-gonic/gin"

	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// Launch implements POST /v1/launches.
func (s *server) Launch(c *gin.Context) {
	answerJSON(s, c, "launch", func(ctx context.Context, request *LaunchRequest) (any, error) {
		asked, err := decodeLaunch(request)
		if err != nil {
			return nil, err
		}
		found, err := s.engine.Launch(ctx, asked)
		if err != nil {
			return nil, err
		}
		request.Course = CourseReference{CourseID: &found.Course.ID}
		return encodeLaunches(found, asked), nil
	})
}

// decodeLaunch reads a request for launches.
func decodeLaunch(request *LaunchRequest) (engine.LaunchRequest, error) {
	source, err := decodeSource("#/course", request.Course)
	if err != nil {
		return engine.LaunchRequest{}, err
	}
	out := engine.LaunchRequest{
		Course: source, Riders: each(request.Riders, decodeRider), Setups: each(valueOr(request.Setups, nil), decodeSetup),
		Conditions: decodeConditions(request.Conditions), Surfaces: each(valueOr(request.Surfaces, nil), decodeSurface),
	}
	out.Lines, err = decodeAll("#/lines", &request.Lines, decodeLine)
	return out, err
}

// decodeLine reads a line to sprint to, which stands at a pointer.
func decodeLine(at string, line LaunchLine) (engine.LaunchLine, error) {
	place, err := decodePlace(at+"/at", line.At)
	switch {
	case err != nil:
		return engine.LaunchLine{}, err
	case line.ApproachM != nil && line.ApproachS != nil:
		return engine.LaunchLine{}, invalidField(at+"/approach_s", "exactly-one", "give approach_m or approach_s, not both")
	case line.ApproachSpeedMps != nil && line.Demand != nil:
		return engine.LaunchLine{}, invalidField(at+"/demand", "exactly-one", "give approach_speed_mps or demand, not both")
	}
	return engine.LaunchLine{
		At: place, ApproachM: number(line.ApproachM), ApproachS: number(line.ApproachS),
		SpeedMps: number(line.ApproachSpeedMps), Demand: number(line.Demand),
		Position: valueOr(line.Position, 0), Shelter: number(line.Shelter), BalancesJ: valueOr(line.WBalancesJ, nil),
	}, nil
}
