package api

import (
	"context"
	"fmt"
	"math"

	"github.com/gin-gonic/gin"

	"parcours.example/analysis/choice"
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// Compare implements POST /v1/comparisons.
func (s *server) Compare(c *gin.Context) {
	answerJSON(s, c, "comparison", func(ctx context.Context, request *ComparisonRequest) (any, error) {
		asked, err := decodeComparison(request)
		if err != nil {
			return nil, err
		}
		found, err := s.engine.Compare(ctx, asked)
		if err != nil {
			return nil, err
		}
		request.Course = CourseReference{CourseID: &found.Course.ID}
		return encodeComparisons(found, asked), nil
	})
}

// decodeComparison reads a comparison's request.
func decodeComparison(request *ComparisonRequest) (engine.ComparisonRequest, error) {
	var asked engine.ComparisonRequest
	var err error
	asked.Ride, err = rideOf(PredictionRequest{
		Course: request.Course, StartM: request.StartM, EndM: request.EndM, Riders: request.Riders, Setups: &request.Setups,
		Conditions: request.Conditions, Surfaces: request.Surfaces, Effort: request.Effort,
		Uncertainties: request.Uncertainties, CoveragePct: request.CoveragePct,
	})
	if err != nil {
		return asked, err
	}
	asked.SetupQuestion, err = decodeSetupQuestion("#", SetupQuestion{
		Ambitions: request.Ambitions, Changes: request.Changes, Crossings: request.Crossings, SetupUncertainties: request.SetupUncertainties,
	})
	return asked, err
}

// decodeSetupQuestion reads what is to be known of set-ups, which stands at a pointer.
func decodeSetupQuestion(at string, q SetupQuestion) (engine.SetupQuestion, error) {
	own := valueOr(q.SetupUncertainties, SetupUncertainties{})
	asked := engine.SetupQuestion{OwnDoubt: choice.OwnDoubt{
		MassKg: number(own.MassKg), CdAM2: number(own.CdaM2), Crr: number(own.Crr), Efficiency: number(own.DrivetrainEfficiency),
	}}
	var err error
	if asked.Quantities, err = decodeQuantities(at+"/crossings", q.Crossings); err != nil {
		return asked, err
	}
	if asked.Ambitions, err = decodeAll(at+"/ambitions", q.Ambitions, decodeAmbition); err != nil {
		return asked, err
	}
	asked.Changes, err = decodeAll(at+"/changes", q.Changes, decodeChange)
	return asked, err
}

// decodeAmbition reads an ambition that stands at a pointer.
func decodeAmbition(at string, a Ambition) (engine.Ambition, error) {
	place, err := decodePlace(at+"/at", a.At)
	return engine.Ambition{Name: valueOr(a.Name, ""), At: place}, err
}

// decodeQuantities reads what crossings are asked for, at a pointer, each at most once: all
// where nothing is said.
func decodeQuantities(at string, asked *[]CrossingQuantity) ([]choice.Quantity, error) {
	if asked == nil {
		return []choice.Quantity{choice.RiderMass, choice.Power, choice.Shelter, choice.Gradient}, nil
	}
	var out []choice.Quantity
	seen := map[CrossingQuantity]bool{}
	for i, q := range *asked {
		if seen[q] {
			return nil, invalidField(fmt.Sprintf("%s/%d", at, i), "duplicate", fmt.Sprintf("%s is asked for twice", q))
		}
		seen[q] = true
		out = append(out, choice.Quantity(q))
	}
	return out, nil
}

// decodeChange reads a change that stands at a pointer.
func decodeChange(at string, c BikeChange) (engine.BikeChange, error) {
	out := engine.BikeChange{StandingS: number(c.StandingS), Stops: valueOr(c.Stops, true), Shelter: math.NaN()}
	if !out.Stops && c.StandingS != nil {
		return out, invalidField(at+"/standing_s", "not-allowed", "without a stop nobody stands; leave standing_s out")
	}
	if c.LostShelter != nil {
		out.LostShelterM, out.Shelter = c.LostShelter.DistanceM, number(c.LostShelter.Shelter)
	}
	var err error
	if out.From, err = decodeSetupReference(at, "from", c.From, c.FromIndex); err != nil {
		return out, err
	}
	if out.To, err = decodeSetupReference(at, "to", c.To, c.ToIndex); err != nil {
		return out, err
	}
	if c.At == nil {
		return out, nil
	}
	place, err := decodePlace(at+"/at", *c.At)
	out.At = &place
	return out, err
}

// decodeSetupReference reads a set-up that is given by its name or its index.
func decodeSetupReference(at, field string, name *string, index *int) (engine.SetupReference, error) {
	if (name == nil) == (index == nil) {
		return engine.SetupReference{}, invalidField(at, "exactly-one", fmt.Sprintf("give exactly one of %s and %s_index", field, field))
	}
	return engine.SetupReference{Name: valueOr(name, ""), Index: valueOr(index, 0)}, nil
}
