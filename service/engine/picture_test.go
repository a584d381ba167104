package engine

import (
	"bytes"
	"context"
	"errors"
	"testing"

	"parcours.example/analysis/picture"
)

func TestPicture(t *testing.T) {
	e := newEngine(t, Config{Workers: 1})
	source := fromFile(gpx("Oster", 200))
	ask := PictureRequest{Course: source, Focus: picture.OfCourse, Look: Look{WidthPx: 600}}
	svg, err := e.Picture(context.Background(), ask)
	if err != nil {
		t.Fatal(err)
	}
	ask.PNG = true
	png, err := e.Picture(context.Background(), ask)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Contains(svg.Bytes, []byte("Hill of Oster")) || !bytes.HasPrefix(png.Bytes, []byte("\x89PNG")) {
		t.Errorf("%.200s\n%q", svg.Bytes, png.Bytes[:8])
	}
	if svg.Course.ID != png.Course.ID || e.runs(t, stagePicture) != 2 {
		t.Errorf("courses %s and %s, %d pictures", svg.Course.ID, png.Course.ID, e.runs(t, stagePicture))
	}
}

func TestPictureOfWhatIsNotThere(t *testing.T) {
	e := newEngine(t, Config{Workers: 1})
	for _, c := range []struct {
		source          CourseSource
		focus           string
		width           int
		code, parameter string
	}{
		{fromFile(gpx("Oster", 200)), "climb-9", 600, picture.CodeNoSuchClimb, "focus"},
		{fromFile(gpx("Oster", 200)), picture.OfLaps, 600, picture.CodeNoLaps, "focus"},
		{fromProfile(200, 1), picture.OfMap, 600, picture.CodeNoPositions, "focus"},
		{fromProfile(200, 1), picture.OfCourse, 6000, CodeInvalid, "width"},
	} {
		_, err := e.Picture(context.Background(), PictureRequest{Course: c.source, Focus: c.focus, Look: Look{WidthPx: c.width}})
		if why, ok := errors.AsType[*Error](err); !ok || why.Code != c.code || why.Parameter != c.parameter {
			t.Errorf("%s: %v", c.focus, err)
		}
	}
	if _, err := e.Picture(context.Background(), PictureRequest{Course: CourseSource{ID: "none"}}); !errors.Is(err, ErrNotCached) {
		t.Errorf("%v, want ErrNotCached", err)
	}
}

func TestPictureStopsWithItsCaller(t *testing.T) {
	e := newEngine(t, Config{Workers: 1})
	source := fromFile(gpx("Oster", 200))
	if _, err := e.Course(context.Background(), source); err != nil {
		t.Fatal(err)
	}
	gone, leave := context.WithCancel(context.Background())
	leave()
	if _, err := e.Picture(gone, PictureRequest{Course: source, Focus: picture.OfCourse, Look: Look{WidthPx: 600}}); !errors.Is(err, context.Canceled) {
		t.Errorf("%v, want the context's error", err)
	}
}
