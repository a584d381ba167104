package api

import (
	"context"
	"fmt"

	"github.com/gin-gonic/gin"

	"parcours.example/analysis/course"
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// AnalyseCourse implements POST /v1/courses.
func (s *server) AnalyseCourse(c *gin.Context, params AnalyseCourseParams) {
	source, err := rawSource(c, CourseOptions{
		Name: params.Name, Laps: params.Laps, LapLine: params.LapLine, Reverse: params.Reverse, Smoothing: params.Smoothing,
		SpacingM: params.SpacingM, AscentThresholdM: params.AscentThresholdM, Track: params.Track,
		StartM: params.StartM, EndM: params.EndM,
	}, valueOr(params.Mark, nil))
	if err != nil {
		s.fail(c, err)
		return
	}
	s.replyCourse(c, valueOr(params.Include, nil), func(ctx context.Context) (*engine.Course, error) {
		return s.engine.Course(ctx, source)
	})
}

// GetCourse implements GET /v1/courses/{course_id}.
func (s *server) GetCourse(c *gin.Context, courseID CourseIDParameter, params GetCourseParams) {
	s.replyCourse(c, valueOr(params.Include, nil), func(ctx context.Context) (*engine.Course, error) {
		return s.engine.Course(ctx, engine.CourseSource{ID: courseID})
	})
}

// AssembleCourse implements POST /v1/courses/assemble.
func (s *server) AssembleCourse(c *gin.Context, params AssembleCourseParams) {
	var request AssemblyRequest
	asked, err := decodeAssembly(requestBody(c), &request)
	if err != nil {
		s.fail(c, err)
		return
	}
	s.replyCourse(c, valueOr(params.Include, nil), func(ctx context.Context) (*engine.Course, error) {
		return s.engine.Assemble(ctx, asked)
	})
}

// decodeAssembly reads an assembly's request.
func decodeAssembly(body []byte, request *AssemblyRequest) (engine.Assembly, error) {
	asked := engine.Assembly{AscentThresholdM: course.Defaults().AscentThresholdM}
	if err := decodeJSON(body, request); err != nil {
		return asked, err
	}
	asked.Name = valueOr(request.Name, "")
	asked.AscentThresholdM = valueOr(request.AscentThresholdM, asked.AscentThresholdM)
	var err error
	if asked.Marks, err = decodeMarks("#/marks", valueOr(request.Marks, nil)); err != nil {
		return asked, err
	}
	for i, p := range request.Parts {
		source, err := decodeSource(fmt.Sprintf("#/parts/%d/course", i), p.Course)
		if err != nil {
			return asked, err
		}
		asked.Parts = append(asked.Parts, engine.AssemblyPart{
			Course: source, FromM: number(p.FromM), ToM: number(p.ToM),
			Reverse: valueOr(p.Reverse, false), Repeat: valueOr(p.Repeat, 1),
		})
	}
	return asked, nil
}

// replyCourse answers with the course that find finds or makes.
func (s *server) replyCourse(c *gin.Context, include []string, find func(context.Context) (*engine.Course, error)) {
	if accepted(c.GetHeader("Accept"), jsonMediaType) == "" {
		writeProblem(c, notAcceptable(jsonMediaType))
		return
	}
	analysed, err := find(c.Request.Context())
	if err != nil {
		s.fail(c, err)
		return
	}
	key := "course/" + analysed.ID
	doc := encodeCourse(analysed)
	for _, what := range include {
		key += "/" + what
		switch what {
		case "profile":
			doc.Profile = encodeProfile(analysed.Course)
		case "geometry":
			doc.Geometry = encodeGeometry(analysed.Course)
		}
	}
	s.replyJSON(c, doc, key)
}

// answerJSON answers a call whose request and answer are both JSON. The answer that work
// gives is named by its kind, the request as work leaves it (its course as a reference by
// id), and what else it depends on.
func answerJSON[Request any](s *server, c *gin.Context, kind string, work func(ctx context.Context, request *Request) (any, error), more ...any) {
	if accepted(c.GetHeader("Accept"), jsonMediaType) == "" {
		writeProblem(c, notAcceptable(jsonMediaType))
		return
	}
	var request Request
	if err := decodeJSON(requestBody(c), &request); err != nil {
		s.fail(c, err)
		return
	}
	answer, err := work(c.Request.Context(), &request)
	if err != nil {
		s.fail(c, err)
		return
	}
	key, err := requestKey(kind, append([]any{request}, more...)...)
	if err != nil {
		s.fail(c, err)
		return
	}
	s.replyJSON(c, answer, key)
}

// replyJSON answers with a document.
func (s *server) replyJSON(c *gin.Context, doc any, key string) {
	r, err := jsonResult(doc, key)
	if err != nil {
		s.fail(c, err)
		return
	}
	reply(c, r)
}
