package engine

import (
	"context"
	"errors"

	"parcours.example/analysis/colour"
	"parcours.example/analysis/picture"
	"parcours.example/analysis/wording"
)

// PictureRequest is what is asked of a picture. Its fields are those of picture.Input.
type PictureRequest struct {
	Course            CourseSource
	Focus             string
	WidthPx, HeightPx int
	Theme             colour.Theme
	Units             wording.Units
	// PNG asks for PNG, else the picture is SVG.
	PNG bool
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
	return admitted(ctx, e.admit, false, func() (*Picture, error) {
		defer e.meter.time(stagePicture)()
		return guard(func() (*Picture, error) { return written(ctx, c, r) })
	})
}

// written draws a picture and writes it in its format, unless the caller has left.
func written(ctx context.Context, c *Course, r PictureRequest) (*Picture, error) {
	d, err := picture.Draw(picture.Input{
		Course: c.Course, Terrain: c.Terrain, Focus: r.Focus,
		WidthPx: r.WidthPx, HeightPx: r.HeightPx, Theme: r.Theme, Units: r.Units,
	})
	if err != nil {
		return nil, undrawable(err)
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	p := &Picture{Course: c}
	if r.PNG {
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
	if why.Code == picture.CodeSize {
		return &Error{Code: CodeInvalid, Parameter: "width", Detail: why.Detail}
	}
	return &Error{Code: why.Code, Parameter: "focus", Detail: why.Detail}
}
