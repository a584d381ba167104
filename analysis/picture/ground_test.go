package picture

import (
	"context"
	"math"
	"strconv"
	"strings"
	"testing"

	"parcours.example/analysis/colour"
	"parcours.example/analysis/course"
)

// ramp is 4 km level, 2 km at 7 % and 2 km down at 12 %.
func ramp(t *testing.T) *course.Course {
	t.Helper()
	opt := course.Defaults()
	opt.Smoothing = course.None
	c, err := course.FromProfile(context.Background(), []float64{0, 4000, 6000, 8000}, []float64{100, 100, 240, 0}, opt)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestGroundIsThatOfTheCourse(t *testing.T) {
	g := newGround(ramp(t), 50, 850, 0, 8000, 100)
	g.settle()
	g.rise(20, 320)
	for _, c := range []struct{ at, elevation float64 }{{0, 100}, {5000, 170}, {6000, 240}, {8000, 0}} {
		p := g.on(c.at)
		if wantX := 50 + c.at/10; math.Abs(p.x-wantX) > 0.1 || math.Abs(p.y-g.y(c.elevation)) > 0.6 {
			t.Errorf("%v m lies at %v, want %.1f, %.1f", c.at, p, wantX, g.y(c.elevation))
		}
	}
	for at, want := range map[float64]int{2000: colour.Step(0), 5000: colour.Step(7), 7000: colour.Step(-12)} {
		if got := g.steps[g.column(g.x(at))]; got != want {
			t.Errorf("at %v m the step is %d, want %d", at, got, want)
		}
	}
	// 300 px for the heights' range, 800 px for 8 km.
	if got, want := g.exaggeration(), 300/(g.highM-g.lowM)/(800.0/8000); math.Abs(got-want) > 1e-9 {
		t.Errorf("heights are drawn %.2f times, want %.2f", got, want)
	}
}

// Every metre of ground has one colour.
func TestRunsCoverTheGround(t *testing.T) {
	g := newGround(ramp(t), 50, 850, 0, 8000, 100)
	g.settle()
	g.rise(20, 320)
	area := 0.0
	for _, rings := range g.runs(0, len(g.steps)) {
		for _, ring := range rings {
			for i, p := range ring {
				q := ring[(i+1)%len(ring)]
				area += (p.x*q.y - q.x*p.y) / 2
			}
		}
	}
	want := 0.0
	for i := 1; i < len(g.ridge); i++ {
		a, b := g.ridge[i-1], g.ridge[i]
		want += (b.x - a.x) * (2*g.plot.y1 - a.y - b.y) / 2
	}
	if math.Abs(area-want) > 0.01*want {
		t.Errorf("the colours cover %.0f px², the ground is %.0f", area, want)
	}
}

// Below each tick of the distance covered stands what is left of the course.
func TestCoveredAndToGoAddUp(t *testing.T) {
	c := ramp(t)
	d := drawn(t, Input{Course: c, Terrain: dissect(c), Focus: OfCourse, WidthPx: 900})
	byX := map[float64][]float64{}
	for _, e := range d.elements {
		if e.letters == nil || e.letters.anchor != atMiddle || e.letters.at.y < float64(d.HeightPx)*0.7 {
			continue
		}
		if v, err := strconv.ParseFloat(e.letters.words, 64); err == nil {
			byX[e.letters.at.x] = append(byX[e.letters.at.x], v)
		}
	}
	pairs := 0
	for x, v := range byX {
		if len(v) == 2 {
			pairs++
			if math.Abs(v[0]+v[1]-8) > 0.051 {
				t.Errorf("at %v px: %v covered and %v to go of 8", x, v[0], v[1])
			}
		}
	}
	if pairs < 4 {
		t.Errorf("only %d pairs in %v", pairs, byX)
	}
}

// Of 25 laps in a narrow picture all that have room are numbered, in equal steps.
func TestLapsAreNumberedEvenly(t *testing.T) {
	c, dissected := season(t, "quellmere-criterium")
	texts := checkSVG(t, drawn(t, Input{Course: c, Terrain: dissected, Focus: OfCourse, WidthPx: 480}).SVG())
	all := "\n" + strings.Join(texts, "\n") + "\n"
	for lap := 1; lap <= 25; lap++ {
		if !strings.Contains(all, "\n"+strconv.Itoa(lap)+"\n") {
			t.Errorf("lap %d has no number in %q", lap, texts)
		}
	}
}

// Ground that is level but for a hand's breadth looks level; a ramp of 100 m fills its room.
func TestRangeOfHeights(t *testing.T) {
	for _, c := range []struct{ lengthM, riseM, least, most float64 }{{20_000, 0.2, 0, 0.02}, {100, 12, 0.9, 1}, {20_000, 400, 0.9, 1}} {
		profile, err := course.FromProfile(context.Background(), []float64{0, c.lengthM}, []float64{50, 50 + c.riseM}, course.Defaults())
		if err != nil {
			t.Fatal(err)
		}
		g := newGround(profile, 0, 500, 0, c.lengthM, 50)
		g.settle()
		g.rise(0, 300)
		if share := (g.on(0).y - g.on(c.lengthM).y) / 300; share < c.least || share > c.most {
			t.Errorf("%v m up over %v m take %.2f of the height, want %v to %v", c.riseM, c.lengthM, share, c.least, c.most)
		}
	}
}
