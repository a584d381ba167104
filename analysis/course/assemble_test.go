package course

import (
	"context"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/track"
)

// assembled puts pieces together with the usual threshold.
func assembled(t interface{ Fatal(...any) }, pieces ...Piece) *Course {
	c, err := Assemble(context.Background(), pieces, AssembleOptions{AscentThresholdM: 1})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func sketched(t interface{ Fatal(...any) }, line sketch) *Course {
	return ofTrack(t, &track.Track{Points: line.onHills()}, Defaults())
}

// raceLine has a way in, three laps, a stretch of the lap once more and a way out.
func raceLine() sketch {
	return start().to(0, 900).rectangle(1000, 600, 3).to(1000, 900).to(1000, 1200).to(1700, 1500).to(1900, 2900)
}

// A course cut at any places and put together again is the course.
func TestPiecesOfACourseMakeIt(t *testing.T) {
	whole := sketched(t, raceLine())
	if whole.Laps.Count != 3 {
		t.Fatalf("laps %+v", whole.Laps)
	}
	rapid.Check(t, func(t *rapid.T) {
		cuts := rapid.SliceOfN(rapid.Float64Range(20, whole.LengthM()-20), 0, 6).Draw(t, "cuts")
		slices.Sort(cuts)
		var pieces []Piece
		from := 0.0
		for _, to := range append(cuts, whole.LengthM()) {
			if to-from >= shortestCutM {
				pieces = append(pieces, Piece{Course: whole, FromM: from, ToM: to})
				from = to
			}
		}
		sameCourse(t, assembled(t, pieces...), whole)
	})
}

// sameCourse demands that two courses differ by rounding and by nodes on their lines
// alone.
func sameCourse(t *rapid.T, c, want *Course) {
	if math.Abs(c.LengthM()-want.LengthM()) > 1e-6 || math.Abs(total(c)-total(want)) > 1e-6 {
		t.Fatalf("%v m, %v m up; want %v, %v", c.LengthM(), total(c), want.LengthM(), total(want))
	}
	if c.Shape != want.Shape || len(c.Parts) != len(want.Parts) || len(c.Repeats) != len(want.Repeats) {
		t.Fatalf("%s, parts %v, repeats %v; want %s, %v, %v", c.Shape, c.Parts, c.Repeats, want.Shape, want.Parts, want.Repeats)
	}
	for i, p := range want.Parts {
		if math.Abs(c.Parts[i].EndM-p.EndM) > 0.1 || math.Abs(c.Parts[i].AscentM-p.AscentM) > 0.1 {
			t.Errorf("part %d is %v, want %v", i, c.Parts[i], p)
		}
	}
	for x := 0.0; x < want.LengthM(); x += 61 {
		if math.Abs(c.ElevationAt(x)-want.ElevationAt(x)) > 1e-6 {
			t.Errorf("elevation %v at %v, want %v", c.ElevationAt(x), x, want.ElevationAt(x))
		}
	}
	if len(c.Quality.Warnings) != len(want.Quality.Warnings) {
		t.Errorf("warnings %v, want %v", c.Quality.Warnings, want.Quality.Warnings)
	}
}

// Put together in two steps or at once, the pieces are the same course; ridden
// backwards twice, too.
func TestAssembliesAssemble(t *testing.T) {
	whole := sketched(t, raceLine())
	rapid.Check(t, func(t *rapid.T) {
		length := whole.LengthM()
		a := rapid.Float64Range(100, length/2).Draw(t, "a")
		b := rapid.Float64Range(length/2+50, length-100).Draw(t, "b")
		first, middle, last := Piece{Course: whole, ToM: a}, Piece{Course: whole, FromM: a, ToM: b}, Piece{Course: whole, FromM: b}
		sameCourse(t, assembled(t, Piece{Course: assembled(t, first, middle)}, last), whole)
		sameCourse(t, assembled(t, first, Piece{Course: assembled(t, middle, last)}), whole)
		back := assembled(t, Piece{Course: whole, Reverse: true})
		if math.Abs(total(back)-whole.DescentM(0, length)) > 1e-6 {
			t.Errorf("%v m up backwards, %v m down", total(back), whole.DescentM(0, length))
		}
		sameCourse(t, assembled(t, Piece{Course: back, Reverse: true}), whole)
	})
}

// The ascents of the pieces add up to that of the whole but for what is below the
// threshold on either side of each joint.
func TestAscentsOfPiecesAddUp(t *testing.T) {
	loop, spur := sketched(t, start().rectangle(1200, 700, 1)), sketched(t, start().to(-1500, -600))
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 6).Draw(t, "laps")
		threshold := rapid.Float64Range(0, 8).Draw(t, "threshold")
		opt := AssembleOptions{AscentThresholdM: threshold}
		sum := func(pieces ...Piece) float64 {
			c, err := Assemble(context.Background(), pieces, opt)
			if err != nil {
				t.Fatal(err)
			}
			if d := total(c) - c.DescentM(0, c.LengthM()) - (c.Z[len(c.Z)-1] - c.Z[0]); math.Abs(d) > 1e-6 {
				t.Errorf("ascent less descent is off by %v m", d)
			}
			return total(c)
		}
		in, laps, out := Piece{Course: spur, Reverse: true}, Piece{Course: loop, Repeat: n}, Piece{Course: spur}
		parts := sum(in) + sum(laps) + sum(out)
		if whole := sum(in, laps, out); math.Abs(whole-parts) > 4*threshold+1e-6 {
			t.Errorf("%v m up, the pieces %v m", whole, parts)
		}
	})
}

// Repeated pieces are laps; the one that covers most is the circuit of the race.
func TestRepeatedPiecesAreLaps(t *testing.T) {
	large, small := sketched(t, start().rectangle(1500, 700, 1)), sketched(t, start().rectangle(-400, -200, 1))
	lead := sketched(t, start().to(900, -900).to(0, 0))
	c := assembled(t, Piece{Course: lead}, Piece{Course: small, Repeat: 3}, Piece{Course: large, Repeat: 2}, Piece{Course: lead, Reverse: true})
	in := lead.LengthM()
	checkParts(t, c)
	if c.Shape != Lapped || c.Laps.Count != 2 || c.Laps.Source != LapsDeclared || math.Abs(c.Laps.StartM-in-3*small.LengthM()) > 1 || math.Abs(c.Laps.LengthM-large.LengthM()) > 1 {
		t.Errorf("%s, laps %+v", c.Shape, c.Laps)
	}
	if o := c.OtherCircuits; len(o) != 1 || o[0].Count != 3 || math.Abs(o[0].StartM-in) > 1 || math.Abs(o[0].LengthM-small.LengthM()) > 1 {
		t.Errorf("other circuits %+v", o)
	}
	if got := c.Passes(in + 100); len(got) != 3 {
		t.Errorf("passes on the small circuit %.0f, want 3", got)
	}
}

// Over the line from 2 km to 1 km of a closed course; once round from 2 km.
func TestPiecesOverTheLine(t *testing.T) {
	lap := sketched(t, start().rectangle(1000, 600, 1))
	length := lap.LengthM()
	for _, tt := range []struct{ from, to, want float64 }{{2000, 1000, length - 1000}, {2000, 2000, length}, {length, 1000, 1000}, {2000, 0, length - 2000}, {0, math.NaN(), length}} {
		c := assembled(t, Piece{Course: lap, FromM: tt.from, ToM: tt.to})
		if math.Abs(c.LengthM()-tt.want) > 0.5 {
			t.Errorf("from %.0f to %.0f: %.1f m, want %.1f m", tt.from, tt.to, c.LengthM(), tt.want)
		}
		if at := math.Mod(tt.from, length); math.Abs(c.Z[0]-lap.ElevationAt(at)) > 0.01 {
			t.Errorf("from %.0f: starts at %v m, want %v m", tt.from, c.Z[0], lap.ElevationAt(at))
		}
	}
}

// Joints are mended and told.
func TestJoints(t *testing.T) {
	first := sketched(t, start().to(2000, 0))
	shifted := func(e, up float64) *Course {
		points := sketch{{2000 + e, 0}}.to(4000, 0).onHills()
		for i := range points {
			points[i].Elevation += up
		}
		return ofTrack(t, &track.Track{Points: points}, Defaults())
	}
	for _, tt := range []struct {
		name      string
		east, up  float64
		code      string
		length    float64
		ascentOff float64
	}{
		{"a gap", 60, 0, "parts-joined", 4000, 1},
		{"an overlap", -80, 0, "parts-overlap", 4000, 1},
		{"a step up", 0, 9, "parts-elevation-spread", 4000, 10},
	} {
		c := assembled(t, Piece{Course: first}, Piece{Course: shifted(tt.east, tt.up)})
		if len(c.Quality.Warnings) != 1 || c.Quality.Warnings[0].Code != tt.code || math.Abs(c.Quality.Warnings[0].AtM-2000) > 100 {
			t.Errorf("%s: warnings %v", tt.name, c.Quality.Warnings)
		}
		if math.Abs(c.LengthM()-tt.length) > 1 || sharpest(c) < 1000 {
			t.Errorf("%s: %.1f m long, want %.0f m, with a bend of %.0f m", tt.name, c.LengthM(), tt.length, sharpest(c))
		}
		for i := range len(c.S) - 1 {
			if g := c.Gradient(i); math.Abs(g) > 0.09 {
				t.Errorf("%s: gradient %.3f at %.0f m", tt.name, g, c.S[i])
			}
		}
	}
}

func TestAssembleRefusals(t *testing.T) {
	road, lap := sketched(t, start().to(2000, 0)), sketched(t, start().rectangle(1000, 600, 1))
	raised := sketch{{2000, 0}}.to(4000, 0).onHills()
	for i := range raised {
		raised[i].Elevation += 40
	}
	high := ofTrack(t, &track.Track{Points: raised}, Defaults())
	for _, tt := range []struct {
		pieces []Piece
		code   string
		part   int
	}{
		{nil, CodeTooShort, 0},
		{[]Piece{{Course: road}, {Course: road}}, CodePartsDoNotJoin, 1},
		{[]Piece{{Course: road, Repeat: 2}}, CodePartsDoNotJoin, 0},
		{[]Piece{{Course: road, FromM: 1500, ToM: 500}}, CodePartsDoNotJoin, 0},
		{[]Piece{{Course: lap}, {Course: lap, FromM: 9000}}, CodeCutOutside, 1},
		{[]Piece{{Course: lap}, {Course: lap, ToM: 9000}}, CodeCutOutside, 1},
		{[]Piece{{Course: lap, FromM: 700, ToM: 700.2}}, CodeTooShort, 0},
		{[]Piece{{Course: lap, Repeat: 3000}}, CodeTooLong, 0},
		{[]Piece{{Course: road}, {Course: high}}, CodePartsDoNotJoin, 1},
	} {
		_, err := Assemble(context.Background(), tt.pieces, AssembleOptions{AscentThresholdM: 1})
		wantCode(t, err, tt.code)
		if e, ok := err.(*Error); ok && e.Part != tt.part {
			t.Errorf("%v: part %d, want %d", err, e.Part, tt.part)
		}
	}
}

// What one piece lacks.
func TestPiecesThatLackSomething(t *testing.T) {
	lap := sketched(t, start().rectangle(1000, 600, 1))
	flat := ofTrack(t, &track.Track{Points: start().to(-1500, 0).points(47, 11, 30)}, Defaults())
	c := assembled(t, Piece{Course: flat, Reverse: true}, Piece{Course: lap, Repeat: 2})
	if !c.HasElevation() || !warned(c, "elevation-missing") || math.Abs(c.Z[0]-lap.Z[0]) > 0.01 {
		t.Errorf("elevation starts at %v, not %v, warnings %v", c.Z[0], lap.Z[0], c.Quality.Warnings)
	}
	table, err := FromProfile(context.Background(), []float64{0, 500, 1500}, []float64{309, 320, 309}, Defaults())
	if err != nil {
		t.Fatal(err)
	}
	c = assembled(t, Piece{Course: lap}, Piece{Course: table, Repeat: 3})
	if c.HasPositions() || c.Laps.Count != 3 || !warned(c, "parts-without-positions") {
		t.Errorf("laps %+v, warnings %v", c.Laps, c.Quality.Warnings)
	}
	if got := c.Passes(lap.LengthM() + 200); len(got) != 3 {
		t.Errorf("passes %.0f, want 3", got)
	}
}

// Marks of the pieces are matched to the whole: on every lap, and where the way out
// comes by again. Marks of what isn't ridden stay away.
func TestMarksOfPieces(t *testing.T) {
	points := start().rectangle(1000, 600, 1).onHills()
	lap := ofTrack(t, &track.Track{Points: points, Marks: []track.Mark{{Name: "mill", Pos: points[100].Pos}, {Name: "farm", Pos: points[500].Pos}}}, Defaults())
	c, err := Assemble(context.Background(), []Piece{{Course: lap, Repeat: 3}, {Course: lap, ToM: 1000}}, AssembleOptions{AscentThresholdM: 1, Marks: []track.Mark{{Name: "gate", AtM: lap.LengthM() + 300}}})
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]int{}
	for _, m := range c.Marks {
		got[m.Name] = len(m.At)
	}
	if len(c.Marks) != 3 || got["mill"] != 4 || got["farm"] != 3 || got["gate"] != 4 {
		t.Errorf("passes %v", got)
	}
	c = assembled(t, Piece{Course: lap, ToM: 1000})
	if len(c.Marks) != 1 || len(c.Quality.Warnings) > 0 {
		t.Errorf("marks %+v, warnings %v", c.Marks, c.Quality.Warnings)
	}
}
