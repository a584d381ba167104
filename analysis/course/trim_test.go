package course

import (
	"context"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/track"
)

// hilly gives points elevations of a few waves along the line.
func hilly(points []track.Point) []track.Point {
	for i := range points {
		points[i].Elevation = 300 + 25*math.Sin(float64(i)/40) + 6*math.Sin(float64(i)/9)
	}
	return points
}

// hillyTrack is a winding line of about 7 km with waves and marks.
func hillyTrack() *track.Track {
	line := start().to(1200, 0).to(1500, 900).arc(1000, 900, 170).to(-500, 700).to(-300, 2500).to(1800, 2300)
	points := hilly(line.points(47, 11, 30))
	return &track.Track{Points: points, Marks: []track.Mark{
		{Name: "early", Pos: points[60].Pos}, {Name: "middle", Pos: points[600].Pos}, {Name: "late", Pos: points[1200].Pos},
	}}
}

func anySmoothing(t *rapid.T) Options {
	opt := Defaults()
	opt.Smoothing = rapid.SampledFrom([]Smoothing{Auto, None}).Draw(t, "smoothing")
	return opt
}

func ofTrack(t interface{ Fatal(...any) }, tr *track.Track, opt Options) *Course {
	c, err := FromTrack(context.Background(), tr, opt)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func total(c *Course) float64 { return c.AscentM(0, c.LengthM()) }

// A cut from the start to the end changes nothing.
func TestTrimOfAllIsTheCourse(t *testing.T) {
	for _, smoothing := range []Smoothing{Auto, None} {
		opt := Defaults()
		opt.Smoothing = smoothing
		whole := ofTrack(t, hillyTrack(), opt)
		opt.EndM = math.Round(10*whole.LengthM()) / 10 // as answers give it
		c := ofTrack(t, hillyTrack(), opt)
		if math.Abs(c.LengthM()-whole.LengthM()) > 0.1 || math.Abs(total(c)-total(whole)) > 0.1 || len(c.Marks) != len(whole.Marks) {
			t.Errorf("%v m, %v m up, %d marks; want %v, %v, %d", c.LengthM(), total(c), len(c.Marks), whole.LengthM(), total(whole), len(whole.Marks))
		}
	}
}

// Two cuts that share an end have the length of the whole, its profile, and its
// ascent but for the rises below the threshold of the filter that the cut leaves on
// either side.
func TestTrimsMakeTheWhole(t *testing.T) {
	tr := hillyTrack()
	rapid.Check(t, func(t *rapid.T) {
		opt := anySmoothing(t)
		whole := ofTrack(t, tr, opt)
		at := rapid.Float64Range(2, whole.LengthM()-2).Draw(t, "at")
		first, second := opt, opt
		first.EndM, second.StartM = at, at
		a, b := ofTrack(t, tr, first), ofTrack(t, tr, second)
		if d := a.LengthM() + b.LengthM() - whole.LengthM(); math.Abs(d) > 1e-6 {
			t.Errorf("lengths differ by %v m", d)
		}
		if d := total(a) + total(b) - total(whole); math.Abs(d) > 2*opt.AscentThresholdM {
			t.Errorf("ascents differ by %v m", d)
		}
		if d := a.Quality.AscentUnsmoothedM + b.Quality.AscentUnsmoothedM - whole.Quality.AscentUnsmoothedM; math.Abs(d) > 1e-6 {
			t.Errorf("unsmoothed ascents differ by %v m", d)
		}
		x := rapid.Float64Range(0, whole.LengthM()).Draw(t, "x")
		got := a.ElevationAt(x)
		if x > at {
			got = b.ElevationAt(x - at)
		}
		if math.Abs(got-whole.ElevationAt(x)) > 1e-6 {
			t.Errorf("elevation %v m at %v, want %v", got, x, whole.ElevationAt(x))
		}
		if n := len(a.Marks) + len(b.Marks); n < len(whole.Marks) || len(a.Quality.Warnings)+len(b.Quality.Warnings) > 0 {
			t.Errorf("%d marks; %v, %v", n, a.Quality.Warnings, b.Quality.Warnings)
		}
	})
}

// A cut of the reversed course is the mirrored cut of the course.
func TestTrimMirrors(t *testing.T) {
	tr := hillyTrack()
	rapid.Check(t, func(t *rapid.T) {
		opt := anySmoothing(t)
		length := ofTrack(t, tr, opt).LengthM()
		from := rapid.Float64Range(0, length-300).Draw(t, "from")
		to := rapid.Float64Range(from+200, length).Draw(t, "to")
		there, back := opt, opt
		there.StartM, there.EndM = from, to
		back.StartM, back.EndM, back.Reverse = length-to, length-from, true
		a, b := ofTrack(t, tr, there), ofTrack(t, tr, back)
		if math.Abs(a.LengthM()-b.LengthM()) > 0.01 {
			t.Fatalf("lengths %v and %v", a.LengthM(), b.LengthM())
		}
		// A turning point may be lost at the threshold by the last bits.
		if d := total(a) - b.DescentM(0, b.LengthM()); math.Abs(d) > 0.2+2*opt.AscentThresholdM {
			t.Errorf("ascent %v, descent of the reverse %v", total(a), b.DescentM(0, b.LengthM()))
		}
		for x := 0.0; x < a.LengthM(); x += 37 {
			if z, w := a.ElevationAt(x), b.ElevationAt(b.LengthM()-x); math.Abs(z-w) > 0.05 {
				t.Errorf("elevation %v at %v, reversed %v", z, x, w)
			}
		}
	})
}

func TestTrimTakesWhatBelongsToIt(t *testing.T) {
	tr := hillyTrack()
	tr.Warnings = []track.Warning{{Code: "odd", Detail: "x", Point: 100}, {Code: "odd", Detail: "y", Point: 700}, {Code: "file", Detail: "z", Point: -1}}
	whole := ofTrack(t, tr, Defaults())
	opt := Defaults()
	opt.StartM, opt.EndM = 2000, 4000
	c := ofTrack(t, tr, opt)
	if len(c.Marks) != 1 || c.Marks[0].Name != "middle" || math.Abs(c.Marks[0].At[0]-(whole.Marks[1].At[0]-2000)) > 0.5 {
		t.Errorf("marks %+v, want the middle one of %+v", c.Marks, whole.Marks)
	}
	var codes []string
	for _, w := range c.Quality.Warnings {
		codes = append(codes, w.Code)
		if w.Code == "odd" && math.Abs(w.AtM-1500) > 10 {
			t.Errorf("a warning stands at %v m, want 1500", w.AtM)
		}
	}
	if !slices.Equal(codes, []string{"odd", "file"}) {
		t.Errorf("warnings %v", codes)
	}
}

func TestTrimRefusals(t *testing.T) {
	length := ofTrack(t, hillyTrack(), Defaults()).LengthM()
	for _, tt := range []struct {
		from, to float64
		code     string
	}{
		{length + 5, 0, CodeCutOutside},
		{0, length + 5, CodeCutOutside},
		{-1, 0, CodeCutOutside},
		{math.NaN(), 0, CodeCutOutside},
		{2000, 2000, CodeTooShort},
		{2000, 1000, CodeTooShort},
		{length, 0, CodeTooShort},
	} {
		opt := Defaults()
		opt.StartM, opt.EndM = tt.from, tt.to
		_, err := FromTrack(context.Background(), hillyTrack(), opt)
		wantCode(t, err, tt.code)
	}
}
