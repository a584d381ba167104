package engine

import (
	"context"
	"errors"

	"parcours.example/analysis/colour"
	"parcours.example/analysis/picture"
	"parcours.example/analysis/wording"
)

// Look is how a picture is drawn. Its fields are those of picture.Input.
type Look struct {
	WidthPx, HeightPx int
	Theme             colour.Theme
	Units             wording.Units
	// PNG asks for PNG, else the picture is SVG.
	PNG bool
}

// PictureRequest is what is asked of a picture of a course.
type PictureRequest struct {
	Course CourseSource
	// Focus is that of picture.Input.
	Focus string
	Look
}

// Picture is a written picture and the course that it shows.
type Picture struct {
	Course *Course
	Bytes  []byte
}

// Picture draws a course. Errors are those of Course, and *Error with the parameter where
// the course has not what is to be drawn.
func (e *Engine) Picture(ctx context.Context, r PictureRequest) (*Picture, error) {
	c, err := e.Course(ctx, r.Course)
	if err != nil {
		return nil, err
	}
	return e.drawn(ctx, func() (*Picture, error) { return written(ctx, c, r.Look, r.Focus, picture.Rides{}) })
}

// drawn draws on a worker.
func (e *Engine) drawn(ctx context.Context, work func() (*Picture, error)) (*Picture, error) {
	return admitted(ctx, e.admit, 0, false, func(ctx context.Context) (*Picture, error) {
		defer e.meter.time(ctx, stagePicture)()
		return guard(work)
	})
}

// written draws a picture and writes it in its format, unless the caller has left.
func written(ctx context.Context, c *Course, look Look, focus string, rides picture.Rides) (*Picture, error) {
	d, err := picture.Draw(picture.Input{
		Course: c.Course, Terrain: c.Terrain, Focus: focus, Rides: rides,
		WidthPx: look.WidthPx, HeightPx: look.HeightPx, Theme: look.Theme, Units: look.Units,
	})
	if err != nil {
		return nil, undrawable(err)
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	p := &Picture{Course: c}
	if look.PNG {
		p.Bytes, err = d.PNG(ctx)
	} else {
		p.Bytes = d.SVG()
	}
	return p, err
}

// undrawable names the parameter at fault.
func undrawable(err error) error {
	why, ok := errors.AsType[*picture.Error](err)
	if !ok {
		return err
	}
	switch why.Code {
	case picture.CodeSize:
		return &Error{Code: CodeInvalid, Parameter: "width", Detail: why.Detail}
	case picture.CodeTooLow:
		return &Error{Code: CodeInvalid, Parameter: "height", Detail: why.Detail}
	}
	return &Error{Code: why.Code, Parameter: "focus", Detail: why.Detail}
}
