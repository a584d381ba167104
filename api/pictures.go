package api

import (
	"context"
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

// pictureParams are the parameters of every picture, nil where they aren't given.
type pictureParams struct {
	width, height *int
	theme         *PictureTheme
	units         *Units
}

// look is how a picture of a media type is drawn.
func (p pictureParams) look(mediaType string) engine.Look {
	return engine.Look{
		WidthPx: valueOr(p.width, defaultWidthPx), HeightPx: valueOr(p.height, 0),
		Theme: colour.Theme(valueOr(p.theme, PictureThemeLight)),
		Units: wording.Units{Imperial: valueOr(p.units, Metric) == Imperial},
		PNG:   mediaType == pngMediaType,
	}
}

// DrawCourse implements GET /v1/courses/{course_id}/profile.
func (s *server) DrawCourse(c *gin.Context, courseID CourseIDParameter, params DrawCourseParams) {
	mediaType := accepted(c.GetHeader("Accept"), svgMediaType, pngMediaType)
	if mediaType == "" {
		writeProblem(c, notAcceptable(svgMediaType, pngMediaType))
		return
	}
	asked := engine.PictureRequest{
		Course: engine.CourseSource{ID: courseID}, Focus: valueOr(params.Focus, picture.OfCourse),
		Look: pictureParams{params.Width, params.Height, params.Theme, params.Units}.look(mediaType),
	}
	key := fmt.Sprintf("picture/%s/%s/%d/%d/%s/%t", courseID, asked.Focus, asked.WidthPx, asked.HeightPx, asked.Theme, asked.Units.Imperial)
	q := question(c)
	q.ID, q.CourseIDs = answerID(key, mediaType), []string{courseID}
	s.answer(c, q, func(ctx context.Context) (result, error) {
		drawn, err := s.engine.Picture(ctx, asked)
		if err != nil {
			return result{}, err
		}
		return result{mediaType: mediaType, body: drawn.Bytes, key: key}, nil
	})
}

// pictureInstead decides whether a call that answers JSON is to answer a picture. It fails
// where neither is accepted, and where a parameter is given that does nothing for what is:
// a picture's beside JSON, or include beside a picture.
func pictureInstead(accept string, params pictureParams, include bool) (mediaType string, err error) {
	mediaType = accepted(accept, jsonMediaType, svgMediaType, pngMediaType)
	p := &problem{kind: kindInvalidRequest, detail: "The query doesn't fit what Accept asks for; see errors."}
	refuse := func(parameter string, given bool, detail string) {
		if given {
			p.faults = append(p.faults, Fault{Parameter: &parameter, Code: "not-allowed", Detail: detail})
		}
	}
	const ofPictures, ofJSON = "this is a picture's; ask for one with Accept: image/svg+xml or image/png", "a picture has no more than it shows; ask for this with Accept: application/json"
	switch mediaType {
	case "":
		return "", notAcceptable(jsonMediaType, svgMediaType, pngMediaType)
	case jsonMediaType:
		refuse("width", params.width != nil, ofPictures)
		refuse("height", params.height != nil, ofPictures)
		refuse("theme", params.theme != nil, ofPictures)
		refuse("units", params.units != nil, ofPictures)
	default:
		refuse("include", include, ofJSON)
	}
	if p.faults != nil {
		return "", p
	}
	return mediaType, nil
}

// answeredPicture answers a call that can answer JSON or a picture where Accept asks for a
// picture, or for what can't be; it reports whether it has, else JSON is asked for.
func answeredPicture[Request any](s *server, c *gin.Context, kind string, params pictureParams, include bool, draw func(context.Context, *Request, engine.Look) (*engine.Picture, error)) bool {
	mediaType, err := pictureInstead(c.GetHeader("Accept"), params, include)
	switch {
	case err != nil:
		s.fail(c, err)
	case mediaType == jsonMediaType:
		return false
	default:
		answerPicture(s, c, kind, mediaType, params, draw)
	}
	return true
}

// answerPicture decodes a request in JSON and answers with the picture that draw makes of
// it, of a media type; draw leaves the request with its course by id.
func answerPicture[Request any](s *server, c *gin.Context, kind, mediaType string, params pictureParams, draw func(context.Context, *Request, engine.Look) (*engine.Picture, error)) {
	var request Request
	if err := decodeJSON(requestBody(c), &request); err != nil {
		s.fail(c, err)
		return
	}
	look := params.look(mediaType)
	q, err := questionOf(c, mediaType, "picture/"+kind, request, look)
	if err != nil {
		s.fail(c, err)
		return
	}
	s.answer(c, q, func(ctx context.Context) (result, error) {
		drawn, err := draw(ctx, &request, look)
		if err != nil {
			return result{}, err
		}
		key, err := requestKey("picture/"+kind, request, look)
		return result{mediaType: mediaType, body: drawn.Bytes, key: key}, err
	})
}
