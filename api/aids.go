package api

import (
	"context"
	"fmt"

	"github.com/gin-gonic/gin"

	"parcours.example/analysis/aid"
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// PlaceAids implements POST /v1/aids.
func (s *server) PlaceAids(c *gin.Context) {
	answerJSON(s, c, "aids", func(ctx context.Context, request *AidsRequest) (any, error) {
		asked, err := decodeAids(request)
		if err != nil {
			return nil, err
		}
		found, err := s.engine.Aids(ctx, asked)
		if err != nil {
			return nil, err
		}
		request.Course = CourseReference{CourseID: &found.Course.ID}
		return encodeAids(found, asked), nil
	})
}

// decodeAids reads a request for aids: a prediction's, the aids and the line.
func decodeAids(request *AidsRequest) (engine.AidsRequest, error) {
	asked, err := rideOf(PredictionRequest{
		Course: request.Course, StartM: request.StartM, EndM: request.EndM, Riders: request.Riders, Setups: request.Setups,
		Conditions: request.Conditions, Surfaces: request.Surfaces, Effort: request.Effort,
	})
	if err != nil {
		return engine.AidsRequest{}, err
	}
	q, err := decodeAidQuestion("#", AidQuestion{Aids: request.Aids, At: request.At, FollowerGapM: request.FollowerGapM})
	return engine.AidsRequest{Ride: asked, AidQuestion: q}, err
}

// decodeAidQuestion reads what is to be known of aids, which stands at a pointer.
func decodeAidQuestion(at string, q AidQuestion) (engine.AidQuestion, error) {
	out := engine.AidQuestion{FollowerGapM: number(q.FollowerGapM)}
	for i, a := range q.Aids {
		out.Aids = append(out.Aids, decodeAid(i, a))
	}
	if q.At == nil {
		return out, nil
	}
	place, err := decodePlace(at+"/at", *q.At)
	out.At = &place
	return out, err
}

// decodeAid reads the i-th aid, with a name if it has none.
func decodeAid(i int, a Aid) engine.Aid {
	return engine.Aid{Aid: aid.Aid{
		Name: orName(a.Name, "Aid", i), DragFactor: valueOr(a.DragFactor, 1), MassChangeKg: valueOr(a.MassChangeKg, 0),
		WakeFactor: valueOr(a.WakeFactor, 1), DurationS: a.DurationS,
	}, AvailableFrom: valueOr(a.AvailableFrom, nil)}
}

// orName is a name, made up of a word and a number if none is given.
func orName(given *string, word string, i int) string {
	if name := valueOr(given, ""); name != "" {
		return name
	}
	return fmt.Sprintf("%s %d", word, i+1)
}
