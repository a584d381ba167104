package api

import (
	"context"

	"github.com/gin-gonic/gin"

	"parcours.example/analysis"
	"parcours.example/analysis/brief"
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// The media types of a written brief, beside JSON.
const (
	markdownMediaType = "text/markdown"
	textMediaType     = "text/plain"
)

// Brief implements POST /v1/briefs.
func (s *server) Brief(c *gin.Context, params BriefParams) {
	as := accepted(c.GetHeader("Accept"), jsonMediaType, markdownMediaType, textMediaType, csvMediaType)
	if as == "" {
		writeProblem(c, notAcceptable(jsonMediaType, markdownMediaType, textMediaType, csvMediaType))
		return
	}
	asked, request, err := decodeBrief(c, params)
	if err == nil && as == csvMediaType {
		err = asTable(&asked, request)
	}
	if err != nil {
		s.fail(c, err)
		return
	}
	written := as == jsonMediaType && mediaType(c.Request) == jsonMediaType
	if written && s.later(c, func(ctx context.Context) error { _, err := s.engine.Brief(ctx, asked); return placedIn(c.Request, err) }) {
		return
	}
	form := as
	if as != jsonMediaType {
		form += "; charset=utf-8"
	}
	if as == csvMediaType {
		form += "; header=present"
	}
	q := question(c)
	if mediaType(c.Request) == jsonMediaType {
		q, err = questionOf(c, form, "brief", request, params.Rider, asked.Units, asked.MaxChars)
	}
	if err != nil {
		s.fail(c, err)
		return
	}
	a, err := s.engine.Answer(c.Request.Context(), q, made(func(ctx context.Context) (result, error) {
		written, err := s.engine.Brief(ctx, asked)
		if err != nil {
			return result{}, err
		}
		request.Course = CourseReference{CourseID: &written.Course.ID}
		key, err := requestKey("brief", request, params.Rider, asked.Units, asked.MaxChars)
		if err != nil {
			return result{}, err
		}
		return briefAs(ctx, as, form, written, key)
	}))
	if err != nil {
		s.fail(c, placedIn(c.Request, err))
		return
	}
	s.replyAnswer(c, a)
}

// briefAs writes a brief in the form that was asked for, with its whole media type.
func briefAs(ctx context.Context, as, form string, written *engine.Brief, key string) (result, error) {
	switch as {
	case csvMediaType:
		return result{mediaType: form, filename: "itinerary-" + written.Course.ID[:8] + ".csv", body: written.Itinerary.CSV(), key: key}, nil
	case markdownMediaType:
		return result{mediaType: form, body: []byte(written.Markdown), key: key}, nil
	case textMediaType:
		return result{mediaType: form, body: []byte(written.Text), key: key}, nil
	}
	return jsonResult(ctx, EncodeBrief(written), key)
}

// decodeBrief reads a brief's request: a route file with everything else in the
// query, or JSON, beside which the query may still have riders in short form, the
// units and the limit.
func decodeBrief(c *gin.Context, params BriefParams) (engine.BriefRequest, BriefRequest, error) {
	options := CourseOptions{
		Name: params.Name, Laps: params.Laps, LapLine: params.LapLine, Reverse: params.Reverse, Smoothing: params.Smoothing,
		SpacingM: params.SpacingM, AscentThresholdM: params.AscentThresholdM, Track: params.Track,
		StartM: params.StartM, EndM: params.EndM,
	}
	var request BriefRequest
	asked := engine.BriefRequest{Conditions: engine.UnstatedConditions()}
	if mediaType(c.Request) == jsonMediaType {
		if err := decodeJSON(requestBody(c), &request); err != nil {
			return asked, request, err
		}
		if p := notBesideJSON(options, params, request); p != nil {
			return asked, request, p
		}
		if err := fillBrief(&asked, request); err != nil {
			return asked, request, err
		}
	} else {
		var err error
		if asked.Course, err = rawSource(c, options, valueOr(params.Mark, nil)); err != nil {
			return asked, request, err
		}
		request.Itinerary = itineraryBy(params)
	}
	asked.Units = brief.Units(valueOr(request.Units, valueOr(params.Units, Metric)))
	asked.MaxChars = valueOr(request.MaxChars, valueOr(params.MaxChars, 0))
	var err error
	if asked.Itinerary, err = decodeItinerary(request.Itinerary); err != nil {
		return asked, request, err
	}
	short, err := decodeShort(valueOr(params.Rider, nil), engine.ParseRider)
	asked.Riders = append(asked.Riders, short...)
	return asked, request, err
}

// notBesideJSON refuses query parameters that a JSON body says itself; nil where
// there are none.
func notBesideJSON(options CourseOptions, params BriefParams, request BriefRequest) *problem {
	p := &problem{kind: kindInvalidRequest, detail: "The request doesn't fit the contract; see errors."}
	refuse := func(parameter string, given bool) {
		if given {
			p.faults = append(p.faults, Fault{Parameter: &parameter, Code: "not-allowed", Detail: "say this in the JSON body alone"})
		}
	}
	refuse("name", options.Name != nil)
	refuse("laps", options.Laps != nil)
	refuse("lap_line", options.LapLine != nil)
	refuse("reverse", options.Reverse != nil)
	refuse("smoothing", options.Smoothing != nil)
	refuse("spacing_m", options.SpacingM != nil)
	refuse("ascent_threshold_m", options.AscentThresholdM != nil)
	refuse("track", options.Track != nil)
	refuse("start_m", options.StartM != nil)
	refuse("end_m", options.EndM != nil)
	refuse("mark", params.Mark != nil)
	refuse("itinerary", params.Itinerary != nil)
	refuse("speed_mps", params.SpeedMps != nil)
	refuse("start_clock", params.StartClock != nil)
	refuse("neutral_m", params.NeutralM != nil)
	refuse("neutral_s", params.NeutralS != nil)
	refuse("units", params.Units != nil && request.Units != nil)
	refuse("max_chars", params.MaxChars != nil && request.MaxChars != nil)
	if p.faults == nil {
		return nil
	}
	return p
}

// fillBrief turns a JSON request into the engine's.
func fillBrief(asked *engine.BriefRequest, request BriefRequest) error {
	var err error
	if asked.Course, err = decodeSource("#/course", request.Course); err != nil {
		return err
	}
	if request.Effort != nil {
		effort, err := decodeEffort("#/effort", *request.Effort)
		if err != nil {
			return err
		}
		asked.Effort = &effort
	}
	for _, r := range valueOr(request.Riders, nil) {
		asked.Riders = append(asked.Riders, engine.BriefRider{Rider: decodeRider(r)})
	}
	asked.Setups = each(valueOr(request.Setups, nil), decodeSetup)
	asked.Conditions = decodeConditions(request.Conditions)
	asked.Surfaces = each(valueOr(request.Surfaces, nil), decodeSurface)
	asked.Doubt = decodeDoubt(request.Uncertainties, request.CoveragePct)
	asked.Questions, err = decodeQuestions("#/questions", request.Questions)
	return err
}

// EncodeBrief writes a brief as the contract has it.
func EncodeBrief(b *engine.Brief) *Brief {
	return &Brief{
		CourseID: b.Course.ID, EngineVersion: analysis.EngineVersion, Title: b.Title, Markdown: b.Markdown, Text: b.Text,
		Sections: each(b.Sections, func(s brief.Section) BriefSection {
			return BriefSection{Heading: s.Heading, Lines: each(s.Lines, func(l string) string { return l })}
		}),
		Facts:        each(b.Facts, func(f brief.Fact) Fact { return Fact{Name: f.Name, Value: round(f.Value, decimalsRatio), Text: f.Text} }),
		Cautions:     each(b.Cautions, func(c string) string { return c }),
		OmittedCount: b.Omitted, Itinerary: encodeItinerary(b),
	}
}
