package engine

import (
	"errors"
	"math"
	"os"
	"testing"

	"parcours.example/analysis/course"
)

func TestPlacesOfARequest(t *testing.T) {
	e := newEngine(t, Config{})
	content, err := os.ReadFile("../../testdata/season/morvask-laps-and-climb.gpx")
	if err != nil {
		t.Fatal(err)
	}
	c, err := e.Course(t.Context(), CourseSource{File: &File{Content: content}, Options: CourseOptions{Options: course.Defaults()}})
	if err != nil {
		t.Fatal(err)
	}
	length, none := c.LengthM(), math.NaN()
	place := func(change func(p *Place)) Place {
		p := Place{AtM: none, StartM: none, EndM: none}
		change(&p)
		return p
	}
	mark := c.Terrain.Marks[0]
	for _, good := range []struct {
		name   string
		place  Place
		passes int
		words  string
	}{
		{"the finish", place(func(p *Place) { p.Finish = true }), 1, "the finish"},
		{"a point", place(func(p *Place) { p.AtM = 1234 }), 1, "the place at 1.23 km"},
		{"a stretch", place(func(p *Place) { p.StartM, p.EndM = 100, 2100 }), 1, "the stretch from 0.10 km to 2.10 km"},
		{"all passes", place(func(p *Place) { p.MarkID = mark.ID }), len(mark.Passes), ""},
		{"the second pass", place(func(p *Place) { p.MarkID, p.Pass = mark.ID, 2 }), 1, ""},
	} {
		spans, err := good.place.Passes(c, 0, length, "#/at")
		if err != nil || len(spans) != good.passes {
			t.Errorf("%s: %d passes, %v", good.name, len(spans), err)
			continue
		}
		if good.words != "" && spans[0].Words() != good.words {
			t.Errorf("%s: %q", good.name, spans[0].Words())
		}
	}
	for _, bad := range []struct {
		name, pointer string
		place         Place
		to            float64
	}{
		{"unknown mark", "#/at/mark_id", place(func(p *Place) { p.MarkID = "mark-99" }), length},
		{"unknown climb", "#/at/climb_id", place(func(p *Place) { p.ClimbID = "climb-99" }), length},
		{"a pass too many", "#/at/pass", place(func(p *Place) { p.MarkID, p.Pass = mark.ID, len(mark.Passes)+1 }), length},
		{"not on the stretch", "#/at/mark_id", place(func(p *Place) { p.MarkID, p.Pass = mark.ID, len(mark.Passes) }), mark.Passes[0].AtM + 1},
		{"a point beyond the end", "#/at/at_m", place(func(p *Place) { p.AtM = length + 1 }), length},
		{"no length", "#/at/end_m", place(func(p *Place) { p.StartM, p.EndM = 10, 10.5 }), length},
	} {
		_, err := bad.place.Passes(c, 0, bad.to, "#/at")
		var fault *Error
		if !errors.As(err, &fault) || fault.Pointer != bad.pointer {
			t.Errorf("%s: %v", bad.name, err)
		}
	}
}
