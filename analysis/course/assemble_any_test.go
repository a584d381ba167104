package course

import (
	"context"
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/track"
)

// anyCourses are courses of all kinds to cut and to join.
func anyCourses(t interface{ Fatal(...any) }) []*Course {
	bare := Defaults()
	bare.Smoothing = None
	profile, err := FromProfile(context.Background(), []float64{0, 400, 401, 1500}, []float64{309, math.NaN(), 330, 309}, Defaults())
	if err != nil {
		t.Fatal(err)
	}
	distances, err := FromProfile(context.Background(), []float64{0, 700}, nil, Defaults())
	if err != nil {
		t.Fatal(err)
	}
	lap := start().rectangle(600, 300, 1)
	points := lap.onHills()
	return []*Course{
		ofTrack(t, &track.Track{Points: points, Marks: []track.Mark{{Name: "a", Pos: points[40].Pos}, {Name: "b", Pos: points[0].Pos, Directed: true, HeadingDeg: 60}}}, Defaults()),
		ofTrack(t, &track.Track{Points: lap.points(47, 11, 30)}, bare),
		ofTrack(t, &track.Track{Points: start().to(-900, 40).onHills()}, bare),
		ofTrack(t, &track.Track{Points: sketch{{0, 0}, {0.4, 0}}.onHills()}, bare),
		lapped(t, start().to(0, 500).rectangle(600, 300, 2), 3),
		profile, distances,
	}
}

// Whatever is put together is a sound course or is refused for a known reason.
func TestAnythingAssembledIsSound(t *testing.T) {
	courses := anyCourses(t)
	made := 0
	rapid.Check(t, func(t *rapid.T) {
		var pieces []Piece
		for range rapid.IntRange(1, 4).Draw(t, "pieces") {
			p := Piece{Course: courses[rapid.IntRange(0, len(courses)-1).Draw(t, "course")], Reverse: rapid.Bool().Draw(t, "reverse"), Repeat: rapid.IntRange(0, 3).Draw(t, "repeat")}
			if rapid.Bool().Draw(t, "cut") {
				position := rapid.OneOf(rapid.Float64Range(0, p.Course.LengthM()), rapid.SampledFrom([]float64{0, p.Course.S[1], p.Course.LengthM()}))
				p.FromM, p.ToM = position.Draw(t, "from"), position.Draw(t, "to")
			}
			pieces = append(pieces, p)
		}
		threshold := rapid.SampledFrom([]float64{0, 1, 10}).Draw(t, "threshold")
		c, err := Assemble(context.Background(), pieces, AssembleOptions{AscentThresholdM: threshold})
		var refused *Error
		if errors.As(err, &refused) {
			return
		}
		made++
		checkSound(t, c)
	})
	t.Logf("%d assemblies", made)
}

// checkSound checks what holds of every course.
func checkSound(t *rapid.T, c *Course) {
	for i := 1; i < len(c.S); i++ {
		if !(c.S[i] > c.S[i-1]) {
			t.Fatalf("node %d at %v, the one before at %v", i, c.S[i], c.S[i-1])
		}
	}
	for _, values := range [][]float64{c.S, c.Z, c.Heading, c.Curvature, c.AscentTo, c.DescentTo} {
		for i, v := range values {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("value %d is %v", i, v)
			}
		}
	}
	if n := len(c.S); c.Z != nil && len(c.Z) != n || c.Pos != nil && (len(c.Pos) != n || len(c.Heading) != n-1 || len(c.Curvature) != n) {
		t.Fatalf("%d nodes, %d elevations, %d positions, %d headings", n, len(c.Z), len(c.Pos), len(c.Heading))
	}
	if c.Z != nil {
		if d := total(c) - c.DescentM(0, c.LengthM()) - (c.Z[len(c.Z)-1] - c.Z[0]); math.Abs(d) > 1e-6 {
			t.Errorf("ascent less descent is off by %v m", d)
		}
	}
	checkParts(t, c)
	for _, w := range c.Quality.Warnings {
		if w.AtM < 0 || w.AtM > c.LengthM() {
			t.Errorf("%s at %v of %v m", w.Code, w.AtM, c.LengthM())
		}
	}
	for _, m := range c.Marks {
		for k, at := range m.At {
			if at < 0 || at > c.LengthM() || k > 0 && at <= m.At[k-1] {
				t.Errorf("mark %q at %v of %v m", m.Name, m.At, c.LengthM())
			}
		}
	}
}

// walk draws a line of streets, with its ends anywhere, that crosses and repeats
// itself.
func walk(t *rapid.T) sketch {
	line := start()
	e, n := 0.0, 0.0
	for range rapid.IntRange(1, 14).Draw(t, "streets") {
		length := 150 * float64(rapid.IntRange(1, 4).Draw(t, "length"))
		switch rapid.IntRange(0, 3).Draw(t, "direction") {
		case 0:
			e += length
		case 1:
			n += length
		case 2:
			e -= length
		default:
			n -= length
		}
		line = line.to(e, n)
	}
	return line
}

// Whatever is asked of a line gives a sound course or a known refusal.
func TestAnythingAskedIsSound(t *testing.T) {
	made := 0
	rapid.Check(t, func(t *rapid.T) {
		points := walk(t).onHills()
		opt := anySmoothing(t)
		opt.Laps = rapid.SampledFrom([]int{0, 0, 0, 1, 2, 4}).Draw(t, "laps")
		opt.Reverse = rapid.Bool().Draw(t, "reverse")
		if rapid.Bool().Draw(t, "cut") {
			opt.StartM = rapid.Float64Range(0, 600).Draw(t, "start")
			opt.EndM = rapid.Float64Range(0, 2000).Draw(t, "end")
		}
		opt.Marks = []track.Mark{{Name: "a", AtM: rapid.Float64Range(0, 500).Draw(t, "mark")}}
		tr := &track.Track{Points: points, Marks: []track.Mark{
			{Name: "b", Pos: points[len(points)/2].Pos}, {Name: "c", Pos: points[len(points)/3].Pos, Directed: true, HeadingDeg: 120},
		}}
		c, err := FromTrack(context.Background(), tr, opt)
		var refused *Error
		if errors.As(err, &refused) {
			return
		}
		made++
		checkSound(t, c)
		if opt.Laps > 0 && (c.Laps.Count != opt.Laps || c.Laps.Source != LapsDeclared) {
			t.Errorf("laps %+v, want %d", c.Laps, opt.Laps)
		}
	})
	t.Logf("%d courses", made)
}
