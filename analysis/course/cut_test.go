package course

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/geodesy"
)

// hillWithLine is a course of n pieces of 10 m that runs north-east over waves.
func hillWithLine(n int) *Course {
	c := &Course{Name: "Waves", Shape: Circuit, Marks: []Mark{{Name: "x"}}, Laps: Laps{Count: 2, Source: LapsDetected}}
	up, down := 0.0, 0.0
	for i := range n + 1 {
		c.S = append(c.S, 10*float64(i))
		c.Z = append(c.Z, 200+20*math.Sin(float64(i)/7))
		c.Pos = append(c.Pos, geodesy.FromDegrees(47.3+6e-5*float64(i), 3.1+9e-5*float64(i)))
		c.Curvature = append(c.Curvature, 1e-3*math.Cos(float64(i)))
		if i > 0 {
			c.Heading = append(c.Heading, float64(i%360))
			up += max(0, c.Z[i]-c.Z[i-1])
			down += max(0, c.Z[i-1]-c.Z[i])
		}
		c.AscentTo = append(c.AscentTo, up)
		c.DescentTo = append(c.DescentTo, down)
	}
	c.Parts = []Part{c.part(Whole, 0, 0, c.LengthM())}
	return c
}

func TestCutKeepsTheGround(t *testing.T) {
	c := hillWithLine(40)
	rapid.Check(t, func(t *rapid.T) {
		from := rapid.Float64Range(0, 398).Draw(t, "from")
		to := rapid.Float64Range(from+1, 400).Draw(t, "to")
		cut := c.Cut(from, to)
		if got := cut.LengthM(); math.Abs(got-(to-from)) > 1e-9 {
			t.Fatalf("length %v, want %v", got, to-from)
		}
		if got, want := cut.AscentM(0, cut.LengthM()), c.AscentM(from, to); math.Abs(got-want) > 1e-9 {
			t.Fatalf("ascent %v, want %v", got, want)
		}
		x := rapid.Float64Range(from, to).Draw(t, "x")
		if got, want := cut.ElevationAt(x-from), c.ElevationAt(x); math.Abs(got-want) > 1e-5 {
			t.Fatalf("elevation at %v: %v, want %v", x, got, want)
		}
		for i := range cut.Heading {
			if !(cut.S[i] < cut.S[i+1]) {
				t.Fatalf("axis %v, %v", cut.S[i], cut.S[i+1])
			}
			middle := from + (cut.S[i]+cut.S[i+1])/2
			if got, want := cut.Heading[i], c.Heading[c.PieceAt(middle)]; got != want {
				t.Fatalf("heading at %v: %v, want %v", middle, got, want)
			}
		}
	})
}

func TestCutOfAllIsTheCourse(t *testing.T) {
	c := hillWithLine(40)
	cut := c.Cut(0, c.LengthM())
	if len(cut.S) != len(c.S) {
		t.Fatalf("%d nodes, want %d", len(cut.S), len(c.S))
	}
	for i := range c.S {
		if cut.S[i] != c.S[i] || math.Abs(cut.Z[i]-c.Z[i]) > 1e-9 || geodesy.Chord(cut.Pos[i], c.Pos[i]) > 1e-6 {
			t.Errorf("node %d: %v %v, want %v %v", i, cut.S[i], cut.Z[i], c.S[i], c.Z[i])
		}
	}
}

func TestCutHasNoStructure(t *testing.T) {
	cut := hillWithLine(40).Cut(100, 200)
	if cut.Shape != PointToPoint || cut.Laps.Count != 0 || len(cut.Marks) != 0 || len(cut.Parts) != 1 || cut.Parts[0].EndM != 100 {
		t.Errorf("%v, %v, %v, %v", cut.Shape, cut.Laps, cut.Marks, cut.Parts)
	}
}

func TestCutOfAProfile(t *testing.T) {
	c := hillWithLine(40)
	c.Pos, c.Heading, c.Curvature = nil, nil, nil
	cut := c.Cut(5, 395)
	if cut.HasPositions() || cut.Heading != nil || cut.Curvature != nil || !cut.HasElevation() {
		t.Error("the cut of a profile has positions, or no elevation")
	}
}
