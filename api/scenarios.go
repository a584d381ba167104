package api

import (
	"context"
	"fmt"

	"github.com/gin-gonic/gin"

	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// RunScenario implements POST /v1/scenarios.
func (s *server) RunScenario(c *gin.Context) {
	mediaType := accepted(c.GetHeader("Accept"), jsonMediaType, linesMediaType)
	if mediaType == "" {
		writeProblem(c, notAcceptable(jsonMediaType, linesMediaType))
		return
	}
	var request ScenarioRequest
	asked, err := decodeScenario(requestBody(c), &request)
	if err != nil {
		s.fail(c, err)
		return
	}
	if mediaType == jsonMediaType && s.later(c, func(ctx context.Context) error { _, err := s.engine.Scenario(ctx, asked); return err }) {
		return
	}
	q, err := questionOf(c, jsonMediaType, "scenario", request)
	if err != nil {
		s.fail(c, err)
		return
	}
	if mediaType == linesMediaType {
		q.Request = "" // that led to a stream
		s.stream(c, func(progress func(done, of int)) (*engine.Answer, error) {
			asked.Progress = progress
			return s.engine.AnswerAlone(c.Request.Context(), q, made(s.scenario(asked, request)))
		})
		return
	}
	asked.Progress = progressOf(c.Request.Context())
	a, err := s.engine.Answer(c.Request.Context(), q, made(s.scenario(asked, request)))
	if err != nil {
		s.fail(c, err)
		return
	}
	s.replyAnswer(c, a)
}

// scenario returns the work that runs a scenario and encodes what it comes to.
func (s *server) scenario(asked engine.ScenarioRequest, request ScenarioRequest) func(context.Context) (result, error) {
	return func(ctx context.Context) (result, error) {
		run, err := s.engine.Scenario(ctx, asked)
		if err != nil {
			return result{}, err
		}
		request.Course = CourseReference{CourseID: &run.Course.ID}
		key, err := requestKey("scenario", request)
		if err != nil {
			return result{}, err
		}
		return jsonResult(ctx, encodeScenario(run, asked, &request), key)
	}
}

// decodeScenario reads a scenario's request.
func decodeScenario(body []byte, request *ScenarioRequest) (engine.ScenarioRequest, error) {
	var none engine.ScenarioRequest
	if err := decodeJSON(body, request); err != nil {
		return none, err
	}
	source, err := decodeSource("#/course", request.Course)
	if err != nil {
		return none, err
	}
	out := engine.ScenarioRequest{
		Course: source, StartM: number(request.StartM), EndM: number(request.EndM),
		Setups: each(valueOr(request.Setups, nil), decodeSetup), Conditions: decodeConditions(request.Conditions),
		Surfaces: each(valueOr(request.Surfaces, nil), decodeSurface),
	}
	if out.Effort, err = decodeOwnEffort("#/effort", request.Effort); err != nil {
		return none, err
	}
	out.RaceQuestion, err = decodeRaceQuestion("#", RaceQuestion{
		Riders: request.Riders, Drawn: request.Drawn, Contests: request.Contests, Duel: request.Duel, Rules: request.Rules,
	})
	return out, err
}

// decodeRaceQuestion reads what is to be known of a race, which stands at a pointer.
func decodeRaceQuestion(at string, q RaceQuestion) (engine.RaceQuestion, error) {
	out := engine.RaceQuestion{Rules: decodeRules(q.Rules)}
	var err error
	if out.Riders, err = decodeAll(at+"/riders", q.Riders, decodeContender); err != nil {
		return out, err
	}
	if out.Drawn, err = decodeAll(at+"/drawn", q.Drawn, decodeDrawn); err != nil {
		return out, err
	}
	if q.Duel != nil {
		out.Duel = q.Duel.Riders
	}
	out.Contests, err = decodeAll(at+"/contests", q.Contests, decodeContest)
	return out, err
}

// decodeAll reads a list that stands at a pointer, each item with its own.
func decodeAll[From, To any](at string, list *[]From, decode func(at string, item From) (To, error)) ([]To, error) {
	var out []To
	for i, item := range valueOr(list, nil) {
		to, err := decode(fmt.Sprintf("%s/%d", at, i), item)
		if err != nil {
			return nil, err
		}
		out = append(out, to)
	}
	return out, nil
}
