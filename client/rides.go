package client

import (
	"context"
	"net/url"

	"parcours.example/api/contract"
)

// Look is how a picture of rides is drawn; nil fields stand for the service's defaults.
type Look struct {
	Form   PictureForm
	Width  *int
	Height *int
	Theme  *contract.PictureTheme
	Units  *contract.Units
}

func (l Look) query() url.Values {
	return queryOf(&contract.PredictParams{Width: l.Width, Height: l.Height, Theme: l.Theme, Units: l.Units})
}

// Predict returns how long riders take. What may be of "trace" and "sensitivities".
func (c *Client) Predict(ctx context.Context, request *contract.PredictionRequest, include ...string) (*contract.Predictions, error) {
	return post[contract.Predictions](ctx, c, "/v1/predictions", request, request.Course, include)
}

// PredictionPicture draws what Predict returns below the course.
func (c *Client) PredictionPicture(ctx context.Context, request *contract.PredictionRequest, look Look) ([]byte, error) {
	return c.draw(ctx, "/v1/predictions", request, request.Course, look)
}

// Plan returns where riders spend power and where they save it, to be as fast as they can. What
// may be of "trace" and "sensitivities".
func (c *Client) Plan(ctx context.Context, request *contract.PlanRequest, include ...string) (*contract.Plans, error) {
	return post[contract.Plans](ctx, c, "/v1/plans", request, request.Course, include)
}

// PlanPicture draws what Plan returns below the course.
func (c *Client) PlanPicture(ctx context.Context, request *contract.PlanRequest, look Look) ([]byte, error) {
	return c.draw(ctx, "/v1/plans", request, request.Course, look)
}

// Launch returns when to start a sprint to lines.
func (c *Client) Launch(ctx context.Context, request *contract.LaunchRequest) (*contract.Launches, error) {
	return post[contract.Launches](ctx, c, "/v1/launches", request, request.Course, nil)
}

// PlaceAids returns where aids that last for a while gain most.
func (c *Client) PlaceAids(ctx context.Context, request *contract.AidsRequest) (*contract.Aids, error) {
	return post[contract.Aids](ctx, c, "/v1/aids", request, request.Course, nil)
}

// Compare returns which set-up serves which ambition, and whether to change it.
func (c *Client) Compare(ctx context.Context, request *contract.ComparisonRequest) (*contract.Comparisons, error) {
	return post[contract.Comparisons](ctx, c, "/v1/comparisons", request, request.Course, nil)
}

// FitRider returns what a rider can do, from hard efforts.
func (c *Client) FitRider(ctx context.Context, request *contract.CapabilityRequest) (*contract.Capability, error) {
	return post[contract.Capability](ctx, c, "/v1/riders/fit", request, contract.CourseReference{}, nil)
}

// post sends a request about a course and returns its answer.
func post[Answer any](ctx context.Context, c *Client, path string, request any, course contract.CourseReference, include []string) (*Answer, error) {
	k, err := jsonCall(path, request, includes(include), jsonMediaType)
	if err != nil {
		return nil, err
	}
	return answered[Answer](ctx, c, k, courseIn(course))
}

// draw sends a request about a course and returns a picture of its answer.
func (c *Client) draw(ctx context.Context, path string, request any, course contract.CourseReference, look Look) ([]byte, error) {
	k, err := jsonCall(path, request, look.query(), string(look.Form))
	if err != nil {
		return nil, err
	}
	return c.bytes(ctx, k, courseIn(course))
}
