package course

import (
	"context"
	"math"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/track"
)

func withMarks(t interface{ Fatal(...any) }, line sketch, marks ...track.Mark) *Course {
	opt := Defaults()
	opt.Marks = marks
	return ofTrack(t, &track.Track{Points: line.onHills()}, opt)
}

// A mark on a crossing belongs to the branch of its direction, without one to both.
func TestMarkOnACrossing(t *testing.T) {
	eight := start().to(800, 800).to(1600, 800).to(1600, 0).to(800, 0).to(0, 800).to(-800, 800).to(-800, 0).to(0, 0)
	cross := sketch{{400, 401}}.points(47, 11, 30)[0].Pos
	// The sketch is turned by 30°, so that its north-east is N 15° E: 45° − 30°.
	for _, tt := range []struct {
		heading float64
		want    []float64
	}{
		{15, []float64{566}},
		{15 + 55, []float64{566}},
		{285, []float64{4094}},
		{285 - 55, []float64{4094}},
		{150, nil},
	} {
		c := withMarks(t, eight, track.Mark{Name: "cross", Kind: track.Sprint, Pos: cross, Directed: true, HeadingDeg: tt.heading})
		if tt.want == nil {
			if len(c.Marks) != 0 || !warned(c, "mark-off-course") {
				t.Errorf("heading %.0f°: marks %+v, warnings %v", tt.heading, c.Marks, c.Quality.Warnings)
			}
			continue
		}
		if len(c.Marks) != 1 || len(c.Marks[0].At) != 1 || math.Abs(c.Marks[0].At[0]-tt.want[0]) > 5 {
			t.Errorf("heading %.0f°: marks %+v, want them at %v", tt.heading, c.Marks, tt.want)
		}
	}
	c := withMarks(t, eight, track.Mark{Name: "cross", Pos: cross})
	if len(c.Marks) != 1 || len(c.Marks[0].At) != 2 {
		t.Errorf("without a direction: marks %+v, want two passes", c.Marks)
	}
}

// A mark by distance stands there, on every lap, and nowhere else.
func TestMarkByDistance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(0, 3*3200).Draw(t, "at")
		c := withMarks(t, start().rectangle(1000, 600, 3), track.Mark{Name: "gate", AtM: min(x, 9595)})
		x = min(x, 9595, c.LengthM())
		want := 3
		if lap := math.Mod(x, 3200); lap < 1 || lap > 3199 {
			want = len(c.Marks[0].At) // on the line or beside it
		}
		if at := c.Marks[0].At; len(at) != want {
			t.Errorf("passed at %.0f, want %d passes", at, want)
		}
		held := false
		for _, at := range c.Marks[0].At {
			held = held || math.Abs(at-x) < 1
		}
		if !held || c.Marks[0].OffCourseM != 0 {
			t.Errorf("%+v, want it at %.1f", c.Marks[0], x)
		}
	})
}

func TestMarksOutside(t *testing.T) {
	for _, at := range []float64{-1, 1001, math.NaN(), math.Inf(1)} {
		opt := Defaults()
		opt.Marks = []track.Mark{{Name: "gate", AtM: at}}
		_, err := FromProfile(context.Background(), []float64{0, 1000}, []float64{1, 2}, opt)
		wantCode(t, err, CodeMarkOutside)
	}
	c := withMarks(t, start().to(3000, 0), track.Mark{Name: "far", Pos: sketch{{500, 300}}.points(47, 11, 30)[0].Pos}, track.Mark{Name: "near", Pos: sketch{{500, -12}}.points(47, 11, 30)[0].Pos})
	if len(c.Marks) != 1 || math.Abs(c.Marks[0].OffCourseM-12) > 0.5 || !warned(c, "mark-off-course") {
		t.Errorf("marks %+v, warnings %v", c.Marks, c.Quality.Warnings)
	}
}

// On a profile marks stand by distance; by position they can't.
func TestMarksOnAProfile(t *testing.T) {
	opt := Defaults()
	opt.Laps = 3
	opt.Marks = []track.Mark{{Name: "gate", AtM: 1400}, {Name: "lost", Pos: start().points(47, 11, 0)[0].Pos}, {Name: "line", AtM: 1000}}
	c, err := FromProfile(context.Background(), []float64{0, 500, 1000}, []float64{10, 30, 10}, opt)
	if err != nil {
		t.Fatal(err)
	}
	if len(c.Marks) != 2 || len(c.Marks[0].At) != 3 || c.Marks[0].At[0] != 400 || len(c.Marks[1].At) != 4 || !warned(c, "mark-needs-positions") {
		t.Errorf("marks %+v, warnings %v", c.Marks, c.Quality.Warnings)
	}
}

// distances is a track without positions.
func distances() *track.Track {
	tr := &track.Track{DistanceM: []float64{100, 100, 600, 1100, 1100, 2100}, Marks: []track.Mark{{Name: "gate", AtM: 900}, {Name: "beyond", AtM: 3000}}}
	for _, z := range []float64{10, 99, 30, 20, 50, 10} {
		tr.Points = append(tr.Points, track.Point{Elevation: z})
	}
	return tr
}

// A track without positions is a course on the file's distances, its marks with it.
func TestTrackByDistances(t *testing.T) {
	for _, tt := range []struct {
		name          string
		opt           func(*Options)
		length, gate  float64
		start, middle float64 // elevations
	}{
		{"as it is", func(*Options) {}, 2000, 800, 10, 20},
		{"reversed", func(o *Options) { o.Reverse = true }, 2000, 1200, 10, 20},
		{"cut", func(o *Options) { o.StartM, o.EndM = 500, 1500 }, 1000, 300, 30, 15},
		{"in laps", func(o *Options) { o.Laps = 2 }, 4000, 800, 10, 10},
	} {
		opt := Defaults()
		opt.Smoothing = None
		tt.opt(&opt)
		c := ofTrack(t, distances(), opt)
		if c.HasPositions() || c.LengthM() != tt.length || !warned(c, "distance-repeated") {
			t.Errorf("%s: %v m, warnings %v", tt.name, c.LengthM(), c.Quality.Warnings)
		}
		if tt.name != "reversed" && (math.Abs(c.Z[0]-tt.start) > 1e-9) {
			t.Errorf("%s: starts at %v m", tt.name, c.Z[0])
		}
		if len(c.Marks) != 1 || math.Abs(c.Marks[0].At[0]-tt.gate) > 1e-9 {
			t.Errorf("%s: marks %+v, want the gate at %v", tt.name, c.Marks, tt.gate)
		}
	}
}

func TestDistancesMustNotDecrease(t *testing.T) {
	tr := distances()
	tr.DistanceM[2] = 50
	_, err := FromTrack(context.Background(), tr, Defaults())
	wantCode(t, err, CodeAxisNotIncreasing)
	tr.DistanceM = tr.DistanceM[:3]
	_, err = FromTrack(context.Background(), tr, Defaults())
	wantCode(t, err, CodeTooShort)
}
