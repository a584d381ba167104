package picture

import (
	"context"
	"encoding/xml"
	"math"
	"strconv"
	"testing"

	"parcours.example/analysis/colour"
	"parcours.example/analysis/course"
	"parcours.example/analysis/track"
)

// plotOf reads where the plot of an SVG is, as a page does; false where it isn't told.
func plotOf(t *testing.T, svg []byte) (p plot, told bool) {
	t.Helper()
	var root struct {
		Attributes []xml.Attr `xml:",any,attr"`
	}
	if err := xml.Unmarshal(svg, &root); err != nil {
		t.Fatal(err)
	}
	found := 0
	for _, a := range root.Attributes {
		to := map[string]*float64{
			"data-plot-x0": &p.x0, "data-plot-x1": &p.x1, "data-plot-y0": &p.y0, "data-plot-y1": &p.y1,
			"data-from-m": &p.fromM, "data-to-m": &p.toM,
		}[a.Name.Local]
		if to == nil {
			continue
		}
		v, err := strconv.ParseFloat(a.Value, 64)
		if err != nil {
			t.Fatal(err)
		}
		*to = v
		found++
	}
	if found != 0 && found != 6 {
		t.Fatalf("the root tells %d of 6 numbers of its plot", found)
	}
	return p, found == 6
}

// signsIn returns the middles of the signs in a box.
func signsIn(d *Drawing, b box) (at []point) {
	for _, e := range d.elements {
		if e.area == nil || e.area.ink != colour.Light.Palette().Mark || len(e.area.rings) != 1 {
			continue
		}
		x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
		for _, p := range e.area.rings[0] {
			x0, y0, x1, y1 = min(x0, p.x), min(y0, p.y), max(x1, p.x), max(y1, p.y)
		}
		if p := (point{(x0 + x1) / 2, (y0 + y1) / 2}); p.y >= b.y0 && p.y <= b.y1 {
			at = append(at, p)
		}
	}
	return at
}

// A mark is drawn where the numbers at the root of the SVG put it.
func TestPlotSaysWherePlacesAre(t *testing.T) {
	const atM = 2_234.5
	opt := course.Defaults()
	opt.Name, opt.Laps = "Two rounds", 2
	opt.Marks = []track.Mark{{Name: "Weir", Kind: track.Sprint, AtM: atM}}
	s, z := make([]float64, 2001), make([]float64, 2001)
	for i := range s {
		s[i] = 4 * float64(i)
		z[i] = 150 * (1 - math.Cos(2*math.Pi*float64(i)/2000))
	}
	c, err := course.FromProfile(context.Background(), s, z, opt)
	if err != nil {
		t.Fatal(err)
	}
	dissected := dissect(c)
	rides := wholeCourse(c, ridden(t, c, four()[0], 250, 0, c.LengthM(), false))
	for _, focus := range []string{OfCourse, OfLaps, OfRides, "climb-1"} {
		for _, width := range []int{LeastWidthPx, 777, MostWidthPx} {
			d := drawn(t, Input{Course: c, Terrain: dissected, Focus: focus, WidthPx: width, Rides: rides})
			p, told := plotOf(t, d.SVG())
			if !told || p.x0 < 0 || p.x1 > float64(width) || p.y0 >= p.y1 || p.fromM >= p.toM {
				t.Fatalf("%s: the plot is %+v", focus, p)
			}
			signs := signsIn(d, p.box)
			for _, pass := range dissected.Marks[0].Passes {
				want := p.x0 + (pass.AtM-p.fromM)/(p.toM-p.fromM)*(p.x1-p.x0)
				if pass.AtM < p.fromM || pass.AtM > p.toM {
					continue
				}
				if len(signs) == 0 || math.Abs(signs[0].x-want) > 0.1 {
					t.Errorf("%s, %d px: the sign at %v m is at %v, the plot says %.2f", focus, width, pass.AtM, signs, want)
				}
				signs = signs[min(1, len(signs)):]
			}
			if len(signs) != 0 {
				t.Errorf("%s: signs of no pass at %v", focus, signs)
			}
		}
	}
}

// On a map a position has no place across.
func TestMapHasNoPlot(t *testing.T) {
	c, dissected := season(t, "hoskerrow-eight")
	if p, told := plotOf(t, drawn(t, Input{Course: c, Terrain: dissected, Focus: OfMap, WidthPx: 600}).SVG()); told {
		t.Errorf("the map's plot is %+v", p)
	}
}
