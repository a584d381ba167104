package api

import (
	"github.com/gin-gonic/gin"

	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// AnalyseCourse implements POST /v1/courses.
func (s *server) AnalyseCourse(c *gin.Context, params AnalyseCourseParams) {
	source, err := rawSource(c, CourseOptions{
		Name: params.Name, Laps: params.Laps, Reverse: params.Reverse, Smoothing: params.Smoothing,
		SpacingM: params.SpacingM, AscentThresholdM: params.AscentThresholdM, Track: params.Track,
		StartM: params.StartM, EndM: params.EndM,
	}, valueOr(params.Mark, nil))
	if err != nil {
		s.fail(c, err)
		return
	}
	s.replyCourse(c, source, valueOr(params.Include, nil))
}

// GetCourse implements GET /v1/courses/{course_id}.
func (s *server) GetCourse(c *gin.Context, courseID CourseIDParameter, params GetCourseParams) {
	s.replyCourse(c, engine.CourseSource{ID: courseID}, valueOr(params.Include, nil))
}

// replyCourse answers with a course.
func (s *server) replyCourse(c *gin.Context, source engine.CourseSource, include []string) {
	if accepted(c.GetHeader("Accept"), jsonMediaType) == "" {
		writeProblem(c, notAcceptable(jsonMediaType))
		return
	}
	analysed, err := s.engine.Course(c.Request.Context(), source)
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

// replyJSON answers with a document.
func (s *server) replyJSON(c *gin.Context, doc any, key string) {
	r, err := jsonResult(doc, key)
	if err != nil {
		s.fail(c, err)
		return
	}
	reply(c, r)
}
