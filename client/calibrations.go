package client

import (
	"context"
	"encoding/base64"
	"errors"
	"fmt"
	"io"

	"parcours.example/api/contract"
)

// Calibrate holds recorded rides against their predictions and returns what made the
// difference and what is learnt of the riders. What may be of "trace" and "positions".
func (c *Client) Calibrate(ctx context.Context, request *contract.CalibrationRequest, include ...string) (*contract.Calibration, error) {
	return post[contract.Calibration](ctx, c, "/v1/calibrations", request, courseOf(request), include)
}

// CalibrationPicture draws the speed and the power of one ride as predicted and as ridden.
func (c *Client) CalibrationPicture(ctx context.Context, request *contract.CalibrationRequest, look Look) ([]byte, error) {
	return c.draw(ctx, "/v1/calibrations", request, courseOf(request), look)
}

// courseOf is the course of a request that may have none.
func courseOf(request *contract.CalibrationRequest) contract.CourseReference {
	if request.Course == nil {
		return contract.CourseReference{}
	}
	return *request.Course
}

// Recording returns a recording as requests take it: FIT, TCX or GPX, as it is or gzipped.
func Recording(f File) (*contract.CourseFile, error) {
	if f.Content == nil {
		return nil, errors.New("client: the recording has no content")
	}
	content, err := io.ReadAll(f.Content)
	if err != nil {
		return nil, fmt.Errorf("client: the recording: %w", err)
	}
	encoding := contract.Base64
	out := &contract.CourseFile{Content: base64.StdEncoding.EncodeToString(content), Encoding: &encoding}
	if f.MediaType != "" {
		out.MediaType = &f.MediaType
	}
	return out, nil
}
