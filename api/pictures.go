package api

import (
	"fmt"

	"github.com/gin-gonic/gin"

	"parcours.example/analysis/colour"
	"parcours.example/analysis/picture"
	"parcours.example/analysis/wording"
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// The media types of pictures.
const (
	svgMediaType = "image/svg+xml"
	pngMediaType = "image/png"
)

// defaultWidthPx is the contract's.
const defaultWidthPx = 960

// DrawCourse implements GET /v1/courses/{course_id}/profile.
func (s *server) DrawCourse(c *gin.Context, courseID CourseIDParameter, params DrawCourseParams) {
	mediaType := accepted(c.GetHeader("Accept"), svgMediaType, pngMediaType)
	if mediaType == "" {
		writeProblem(c, notAcceptable(svgMediaType, pngMediaType))
		return
	}
	asked := engine.PictureRequest{
		Course: engine.CourseSource{ID: courseID}, Focus: valueOr(params.Focus, picture.OfCourse),
		WidthPx: valueOr(params.Width, defaultWidthPx), HeightPx: valueOr(params.Height, 0),
		Theme: colour.Theme(valueOr(params.Theme, PictureThemeLight)),
		Units: wording.Units{Imperial: valueOr(params.Units, Metric) == Imperial},
		PNG:   mediaType == pngMediaType,
	}
	drawn, err := s.engine.Picture(c.Request.Context(), asked)
	if err != nil {
		s.fail(c, err)
		return
	}
	key := fmt.Sprintf("picture/%s/%s/%d/%d/%s/%t", courseID, asked.Focus, asked.WidthPx, asked.HeightPx, asked.Theme, asked.Units.Imperial)
	reply(c, result{mediaType: mediaType, body: drawn.Bytes, key: key})
}
