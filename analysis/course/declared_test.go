package course

import (
	"context"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/track"
)

// lapped makes the course of a sketch ridden in a number of laps.
func lapped(t interface{ Fatal(...any) }, line sketch, laps int) *Course {
	opt := Defaults()
	opt.Laps = laps
	return ofTrack(t, &track.Track{Points: line.onHills()}, opt)
}

// onHills puts the sketch onto ground with hills: where it is ridden again it is as
// high again.
func (s sketch) onHills() []track.Point {
	points := s.points(47, 11, 30)
	for i, p := range s {
		points[i].Elevation = 300 + 25*math.Sin(p[0]/400) + 9*math.Cos(p[1]/170)
	}
	return points
}

// Where the lap lies in a file, by the shape of its line: the parts of the course that
// three laps make, with their ends in metres.
var lapFiles = []struct {
	name string
	line sketch
	ends []float64
}{
	{"from line to line", start().rectangle(1000, 400, 1), []float64{2800, 5600, 8400}},
	{"not quite to the line", start().to(1000, 0).to(1000, 400).to(0, 400).to(0, 60), []float64{2800, 5600, 8400}},
	{"past the line", start().rectangle(1000, 400, 1).to(70, 0), []float64{2800, 5600, 8400}},
	{"a way in", start().to(0, 900).rectangle(1000, 400, 1), []float64{900, 3700, 6500, 9300}},
	{"a way in and past the line", start().to(0, 900).rectangle(1000, 400, 1).to(300, 900), []float64{1200, 4000, 6800, 9600}},
	{"a way out", start().to(0, 400).to(1000, 400).to(1000, 0).to(0, 0).to(0, 300).to(-900, 300), []float64{2800, 5600, 8400, 9600}},
	{"a way in and a way out", start().to(0, -700).to(700, -700).rectangle(1000, 400, 1).to(700+500, -700).to(700+500, -2000), []float64{1400, 4200, 7000, 9800, 11600}},
	{"a small loop on the way", start().rectangle(150, 100, 1).to(2000, 0).rectangle(1500, 700, 1).to(2500, 0), []float64{3000, 7400, 11800, 16200}},
	{"out and back", start().to(1500, 0).to(0, 0), []float64{3000, 6000, 9000}},
}

func TestLapsByTheShapeOfTheLine(t *testing.T) {
	for _, tt := range lapFiles {
		t.Run(tt.name, func(t *testing.T) {
			c := lapped(t, tt.line, 3)
			checkParts(t, c)
			if c.Shape != Lapped || c.Laps.Count != 3 || c.Laps.Source != LapsDeclared || len(c.Parts) != len(tt.ends) {
				t.Fatalf("%s, %+v, parts %v", c.Shape, c.Laps, c.Parts)
			}
			for i, p := range c.Parts {
				if math.Abs(p.EndM-tt.ends[i]) > 15 {
					t.Errorf("part %d ends at %.1f m, want %.0f m", i+1, p.EndM, tt.ends[i])
				}
			}
			at := c.Laps.StartM + 500
			if got := c.Passes(at); len(got) < 3 {
				t.Errorf("passes of %.0f: %.0f", at, got)
			}
		})
	}
}

func TestLapsThatDoNotClose(t *testing.T) {
	out := start().to(3000, 0)
	turnsRound := start().to(3000, 0).to(500, 0)
	onlyCrosses := start().to(1000, 0).to(1000, 400).to(500, 400).to(500, -300)
	for _, line := range []sketch{out, turnsRound, onlyCrosses} {
		opt := Defaults()
		opt.Laps = 3
		_, err := FromTrack(context.Background(), &track.Track{Points: line.onHills()}, opt)
		wantCode(t, err, CodeLapsDoNotClose)
	}
}

// A file that holds laps is given as many as are asked for.
func TestLapsOfALappedFile(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		held := rapid.IntRange(2, 5).Draw(t, "held")
		laps := rapid.IntRange(1, 8).Draw(t, "laps")
		lead, out := rapid.SampledFrom([]float64{0, 700}).Draw(t, "way in"), rapid.SampledFrom([]float64{0, 900}).Draw(t, "way out")
		line := start()
		if lead > 0 {
			line = line.to(0, lead)
		}
		line = line.rectangle(800, 300, held)
		if out > 0 {
			line = line.to(-out, lead)
		}
		c := lapped(t, line, laps)
		if c.Laps.Count != laps || c.Laps.Source != LapsDeclared {
			t.Fatalf("laps %+v, want %d", c.Laps, laps)
		}
		if want := lead + float64(laps)*2200 + out; math.Abs(c.LengthM()-want) > 25 {
			t.Errorf("%.1f m long, want %.0f m", c.LengthM(), want)
		}
		if math.Abs(c.Laps.StartM-lead) > 10 || math.Abs(c.Laps.LengthM-2200) > 10 {
			t.Errorf("laps %+v, want them of 2200 m from %.0f m on", c.Laps, lead)
		}
		if told := warned(c, "laps-changed"); told != (laps != held) {
			t.Errorf("%d laps of %d, told: %t", laps, held, told)
		}
		if got := c.Passes(lead + 900); len(got) != laps {
			t.Errorf("passes %.0f, want %d", got, laps)
		}
	})
}

func warned(c *Course, code string) bool {
	return slices.ContainsFunc(c.Quality.Warnings, func(w Warning) bool { return w.Code == code })
}

// A small circuit within a lap that closes isn't the lap.
func TestTheLargeLapIsTheLap(t *testing.T) {
	line := start().to(3000, 0).rectangle(200, 150, 3).to(3000, 2000).to(0, 2000).to(0, 0)
	c := lapped(t, line, 2)
	if want := 2 * (3000 + 2100 + 2000 + 3000 + 2000.0); math.Abs(c.LengthM()-want) > 60 || c.Laps.Count != 2 {
		t.Errorf("%.0f m with laps %+v, want %.0f m", c.LengthM(), c.Laps, want)
	}
}

// Marks inside the lap of a file with a way in are passed on every lap.
func TestMarksOfTheLapAreOnEveryLap(t *testing.T) {
	place := sketch{{600, 903}}.points(47, 11, 30)[0].Pos
	tr := &track.Track{Points: start().to(0, 900).rectangle(1000, 400, 1).onHills(), Marks: []track.Mark{{Name: "mill", Pos: place}}}
	opt := Defaults()
	opt.Laps = 4
	c := ofTrack(t, tr, opt)
	if len(c.Marks) != 1 || len(c.Marks[0].At) != 4 || math.Abs(c.Marks[0].At[3]-(900+3*2800+600)) > 15 {
		t.Errorf("marks %+v", c.Marks)
	}
}

// Laps are those of what a cut leaves.
func TestLapsOfACut(t *testing.T) {
	line := start().to(0, 900).rectangle(1000, 400, 1)
	opt := Defaults()
	opt.StartM, opt.Laps = 900, 3
	c := ofTrack(t, &track.Track{Points: line.onHills()}, opt)
	if math.Abs(c.LengthM()-3*2800) > 25 || len(c.Parts) != 3 {
		t.Errorf("%.0f m, parts %v", c.LengthM(), c.Parts)
	}
}

// The line goes on across a joint: no gap is crossed at a right angle, and there is no
// bend where there was none.
func TestNoBendAtTheLine(t *testing.T) {
	c := lapped(t, start().arc(0, 500, 359), 3) // 9 m short of a circle
	for i, k := range c.Curvature[3 : len(c.Curvature)-3] {
		if math.Abs(math.Abs(k)*500-1) > 0.35 {
			t.Errorf("curvature %v at %.0f m, want 1/500", k, c.S[i+3])
		}
	}
}

// A lap with a road out and back in it is told of: perhaps only its loop is meant.
func TestLapWithAStem(t *testing.T) {
	for _, tt := range []struct {
		line sketch
		told bool
	}{
		{start().to(900, 0).rectangle(1000, 600, 1).to(0, 0), true},
		{start().rectangle(1000, 600, 1), false},
		{start().to(3000, 0).to(0, 0), false},
	} {
		if c := lapped(t, tt.line, 2); warned(c, "lap-with-stem") != tt.told {
			t.Errorf("%.0f m: warnings %v", c.LengthM(), c.Quality.Warnings)
		}
	}
}
