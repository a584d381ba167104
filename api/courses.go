package api

import (
	"context"
	"fmt"
	"strings"

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
	s.answerCourse(c, question(c), valueOr(params.Include, nil), func(ctx context.Context) (*engine.Course, error) {
		return s.engine.Course(ctx, source)
	})
}

// GetCourse implements GET /v1/courses/{course_id}.
func (s *server) GetCourse(c *gin.Context, courseID CourseIDParameter, params GetCourseParams) {
	include := valueOr(params.Include, nil)
	q := question(c)
	q.ID, q.CourseIDs = answerID(courseKey(courseID, include), jsonMediaType), []string{courseID}
	s.answerCourse(c, q, include, func(ctx context.Context) (*engine.Course, error) {
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
	q := question(c)
	for _, p := range asked.Parts {
		if p.Course.ID != "" {
			q.CourseIDs = append(q.CourseIDs, p.Course.ID)
		}
	}
	s.answerCourse(c, q, valueOr(params.Include, nil), func(ctx context.Context) (*engine.Course, error) {
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

// courseKey names the answer about a course.
func courseKey(id string, include []string) string {
	return strings.Join(append([]string{"course", id}, include...), "/")
}

// answerCourse answers with the course that find finds or makes.
func (s *server) answerCourse(c *gin.Context, q engine.Question, include []string, find func(context.Context) (*engine.Course, error)) {
	if accepted(c.GetHeader("Accept"), jsonMediaType) == "" {
		writeProblem(c, notAcceptable(jsonMediaType))
		return
	}
	s.answer(c, q, func(ctx context.Context) (result, error) {
		analysed, err := find(ctx)
		if err != nil {
			return result{}, err
		}
		doc := encodeCourse(analysed)
		for _, what := range include {
			switch what {
			case "profile":
				doc.Profile = encodeProfile(analysed.Course)
			case "geometry":
				doc.Geometry = encodeGeometry(analysed.Course)
			}
		}
		return jsonResult(ctx, doc, courseKey(analysed.ID, include))
	})
}
