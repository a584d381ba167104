package main

import (
	"context"
	"errors"
	"io"
	"net/http"

	"parcours.example/api/contract"
	"parcours.example/client"
)

// drawer draws courses, and takes their files again where it has forgotten them.
type drawer interface {
	CoursePicture(ctx context.Context, id string, form client.PictureForm, options *contract.DrawCourseParams) ([]byte, error)
	AnalyseCourse(ctx context.Context, f client.File, options *contract.AnalyseCourseParams) (*contract.Course, error)
}

// pictures gets pictures of the rounds from the service, so that its key stays here.
type pictures struct {
	drawer drawer
	open   func(name string) (io.ReadCloser, error)
}

// The widths of pictures, in pixels: for narrow windows and wide ones.
const (
	narrowPx = 480
	widePx   = 960
)

// picture serves the picture of a round's course: ?theme=dark for dark pages, ?wide=1 for wide
// ones, ?units=imperial.
func (w *web) picture(out http.ResponseWriter, r *http.Request) {
	round, ok := w.board.round(r.PathValue("course"))
	if !ok {
		http.NotFound(out, r)
		return
	}
	q := r.URL.Query()
	theme, width := contract.PictureTheme("light"), narrowPx
	if q.Get("theme") == "dark" {
		theme = "dark"
	}
	if q.Get("wide") == "1" {
		width = widePx
	}
	units := contract.Units("metric")
	if q.Get("units") == "imperial" {
		units = "imperial"
	}
	picture, err := w.pictures.draw(r.Context(), round, &contract.DrawCourseParams{Theme: &theme, Width: &width, Units: &units})
	if err != nil {
		http.Error(out, "The picture can't be had now.", http.StatusBadGateway)
		return
	}
	out.Header().Set("Cache-Control", "private, max-age=86400") // the course's digest is its name
	out.Header().Set("Content-Type", "image/svg+xml")
	_, _ = out.Write(picture) // who left isn't told
}

// draw gets a picture; a course that the service has forgotten is sent again.
func (p *pictures) draw(ctx context.Context, round shownRound, options *contract.DrawCourseParams) ([]byte, error) {
	picture, err := p.drawer.CoursePicture(ctx, round.CourseID, client.SVG, options)
	if !errors.Is(err, client.CourseNotCached) {
		return picture, err
	}
	file, err := p.open(round.RoundID)
	if err != nil {
		return nil, err
	}
	defer func() { _ = file.Close() }() // only read
	if _, err := p.drawer.AnalyseCourse(ctx, client.File{Content: file}, nil); err != nil {
		return nil, err
	}
	return p.drawer.CoursePicture(ctx, round.CourseID, client.SVG, options)
}
