package course

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

// lineCourse is a course through points as they are, without structure.
func lineCourse(points []track.Point) *Course {
	c := &Course{S: []float64{0}, Pos: []geodesy.Vec{points[0].Pos}}
	for i, p := range points[1:] {
		if d := geodesy.Chord(points[i].Pos, p.Pos); d > 0 {
			c.S, c.Pos = append(c.S, c.LengthM()+d), append(c.Pos, p.Pos)
		}
	}
	return c
}

// sketch draws a line in the plane, in metres to the east and north.
type sketch [][2]float64

// to goes on straight to a point, in steps of 5 m or less.
func (s sketch) to(e, n float64) sketch {
	if len(s) == 0 {
		return sketch{{e, n}}
	}
	a := s[len(s)-1]
	steps := math.Ceil(math.Hypot(e-a[0], n-a[1]) / 5)
	for k := 1.0; k <= steps; k++ {
		s = append(s, [2]float64{a[0] + (e-a[0])*k/steps, a[1] + (n-a[1])*k/steps})
	}
	return s
}

// arc goes round a centre by an angle in degrees from where the line is.
func (s sketch) arc(e, n, deg float64) sketch {
	a := s[len(s)-1]
	r, start := math.Hypot(a[0]-e, a[1]-n), math.Atan2(a[1]-n, a[0]-e)
	turn := deg * math.Pi / 180
	steps := math.Ceil(math.Abs(turn) * r / 5)
	for k := 1.0; k <= steps; k++ {
		sin, cos := math.Sincos(start + turn*k/steps)
		s = append(s, [2]float64{e + r*cos, n + r*sin})
	}
	return s
}

// rectangle goes round a rectangle n times from its lower left corner.
func (s sketch) rectangle(width, height float64, n int) sketch {
	e, nn := s[len(s)-1][0], s[len(s)-1][1]
	for range n {
		s = s.to(e+width, nn).to(e+width, nn+height).to(e, nn+height).to(e, nn)
	}
	return s
}

func (s sketch) reversed() sketch {
	var r sketch
	for i := len(s) - 1; i >= 0; i-- {
		r = append(r, s[i])
	}
	return r
}

// points puts the sketch onto the ellipsoid around a place, turned by an angle in
// degrees.
func (s sketch) points(lat, lon, turnDeg float64) []track.Point {
	origin := geodesy.FromDegrees(lat, lon)
	frame := geodesy.FrameAt(origin)
	sin, cos := math.Sincos(turnDeg * math.Pi / 180)
	out := make([]track.Point, len(s))
	for i, p := range s {
		e, n := cos*p[0]-sin*p[1], sin*p[0]+cos*p[1]
		lat, lon := origin.Add(frame.East.Scale(e)).Add(frame.North.Scale(n)).Degrees()
		out[i] = track.Point{Pos: geodesy.FromDegrees(lat, lon), Elevation: math.NaN()}
	}
	return out
}

// built returns the course along points with its structure.
func built(t interface{ Fatal(...any) }, points []track.Point, marks ...track.Mark) *Course {
	c := lineCourse(points)
	c.structure(context.Background(), declaredLaps{}, marks)
	return c
}

func start() sketch { return sketch{}.to(0, 0) }

// shapes are hand-made courses with what is to be seen in them. Lengths in metres.
var shapes = []struct {
	name    string
	line    sketch
	shape   Shape
	laps    int
	starts  []float64 // of the laps, and the end of the last
	repeats int
	others  []OtherCircuit // their number, start and length
}{
	{"straight road", start().to(5000, 3000), PointToPoint, 0, nil, 0, nil},
	{"circle once", start().arc(0, 500, 360), Circuit, 0, nil, 0, nil},
	{"circle three times", start().arc(0, 500, 3*360), Lapped, 3, []float64{0, 3141.6, 6283.2, 9424.8}, 0, nil},
	{"smallest circle", start().arc(0, 48, 200*360), Lapped, 200, nil, 0, nil},
	{"rectangle twice", start().rectangle(1000, 400, 2), Lapped, 2, []float64{0, 2800, 5600}, 0, nil},
	{"rectangle one and a half times", start().rectangle(1000, 400, 1).to(1000, 0).to(1000, 400), PointToPoint, 0, nil, 1, nil},
	{"lead-in, five laps, run-out", start().to(2000, 0).to(2000, 500).rectangle(800, 300, 5).to(2000, 3000), Lapped, 5, []float64{2500, 4700, 6900, 9100, 11300, 13500}, 0, nil},
	{"entered elsewhere than at the line", start().to(0, 500).to(800, 500).to(800, 800).to(0, 800).to(0, 500).to(800, 500).to(800, 800).to(0, 800).to(0, 500).to(800, 500), Lapped, 2, []float64{1300, 3500, 5700}, 1, nil},
	{"figure-eight once", start().arc(0, 400, 360).arc(0, -400, -360), Circuit, 0, nil, 0, nil},
	{"figure-eight three times", start().arc(0, 400, 360).arc(0, -400, -360).arc(0, 400, 360).arc(0, -400, -360).arc(0, 400, 360).arc(0, -400, -360), Lapped, 3, []float64{0, 5026.5, 10053.1, 15079.6}, 0, nil},
	{"out and back", start().to(4000, 0).to(4000, 3000).to(4000, 0).to(0, 0), OutAndBack, 0, nil, 0, nil},
	{"lollipop", start().to(3000, 0).rectangle(1000, 700, 1).to(0, 0), Lollipop, 0, nil, 0, nil},
	{"out, laps, back", start().to(3000, 0).rectangle(1000, 700, 3).to(0, 0), Lapped, 3, []float64{3000, 6400, 9800, 13200}, 0, nil},
	{"a lap in each direction", start().rectangle(1000, 700, 1).to(0, 700).to(1000, 700).to(1000, 0).to(0, 0), OutAndBack, 0, nil, 0, nil},
	{"two loops over one road", start().to(1500, 0).to(1500, 900).to(0, 900).to(0, 0).to(1500, 0).to(1500, -600).to(0, -600).to(0, 0), Circuit, 0, nil, 1, nil},
	{"two loops over one road, then a small circuit", start().to(1500, 0).to(1500, 900).to(0, 900).to(0, 0).to(1500, 0).to(1500, -600).to(0, -600).rectangle(-300, -200, 3).to(0, -4000), Lapped, 3, []float64{8400, 9400, 10400, 11400}, 1, nil},
	{"spiral", spiral(90, 5), PointToPoint, 0, nil, 0, nil},
	{"hill ridden three times", start().to(0, 1000).rectangle(600, 300, 1).to(0, 1500).to(-900, 1500).to(-900, 0).to(0, 0).to(0, 1000).to(400, 1000).to(400, 2000).to(-1500, 2000).to(-1500, -500).to(0, -500).to(0, 1000), PointToPoint, 0, nil, 2, nil},
	{"there and back three times", start().to(2000, 0).to(0, 0).to(2000, 0).to(0, 0).to(2000, 0).to(0, 0), Lapped, 3, []float64{0, 4000, 8000, 12000}, 0, nil},
	{"two loops in turn", start().rectangle(900, 400, 1).rectangle(-500, -300, 1).rectangle(900, 400, 1).rectangle(-500, -300, 1), Lapped, 2, []float64{0, 4200, 8400}, 0, nil},
	{"two circuits from one line", start().rectangle(900, 400, 3).rectangle(-500, -300, 4), Lapped, 3, []float64{0, 2600, 5200, 7800}, 0, []OtherCircuit{{Count: 4, StartM: 7800, LengthM: 1600}}},
	{"two circuits over one road", start().rectangle(600, 300, 3).rectangle(600, -500, 4), Lapped, 4, []float64{5400, 7600, 9800, 12000, 14200}, 1, []OtherCircuit{{Count: 3, LengthM: 1800}}},
	{"two circuits apart", start().rectangle(900, 400, 3).to(-2000, 0).rectangle(-500, -300, 4).to(-2000, 3000), Lapped, 3, []float64{0, 2600, 5200, 7800}, 0, []OtherCircuit{{Count: 4, StartM: 9800, LengthM: 1600}}},
	{"three circuits", start().rectangle(900, 400, 2).rectangle(-500, -300, 2).rectangle(-900, 400, 3), Lapped, 3, []float64{8400, 11000, 13600, 16200}, 2, []OtherCircuit{{Count: 2, LengthM: 2600}, {Count: 2, StartM: 5200, LengthM: 1600}}},
	{"a small circuit twice within each lap", start().rectangle(900, 600, 1).rectangle(400, 250, 2).rectangle(900, 600, 1).rectangle(400, 250, 2), Lapped, 2, []float64{0, 5600, 11200}, 2, nil},
	{"a small circuit within the large one, afterwards", start().rectangle(900, 600, 3).rectangle(400, 600, 2), Lapped, 3, []float64{0, 3000, 6000, 9000}, 2, []OtherCircuit{{Count: 2, StartM: 9000, LengthM: 2000}}},
	{"laps one way, then the other", start().rectangle(900, 400, 2).to(0, 400).to(900, 400).to(900, 0).to(0, 0).to(0, 400).to(900, 400).to(900, 0).to(0, 0), Lapped, 2, []float64{0, 2600, 5200}, 0, []OtherCircuit{{Count: 2, StartM: 5200, LengthM: 2600}}},
	{"a hill from both sides", start().to(0, 2000).rectangle(-800, 500, 1).to(0, 0).rectangle(700, -400, 1), Circuit, 0, nil, 0, nil},
}

// spiral winds out by a distance in metres from turn to turn.
func spiral(gap float64, turns int) sketch {
	var s sketch
	for k := range turns * 360 {
		sin, cos := math.Sincos(float64(k) * math.Pi / 180)
		r := 100 + gap*float64(k)/360
		s = append(s, [2]float64{r * cos, r * sin})
	}
	return s
}

func TestShapes(t *testing.T) {
	for _, tt := range shapes {
		t.Run(tt.name, func(t *testing.T) {
			c := built(t, tt.line.points(47, 11, 20))
			if c.Shape != tt.shape || c.Laps.Count != tt.laps {
				t.Errorf("%s with %d laps, want %s with %d", c.Shape, c.Laps.Count, tt.shape, tt.laps)
			}
			lines := c.lapLines()
			for k, want := range tt.starts {
				if k < len(lines) && math.Abs(lines[k]-want) > 3 {
					t.Errorf("lap line %d at %.1f m, want %.1f", k, lines[k], want)
				}
			}
			if tt.laps > 0 && c.Laps.Agreement < 0.98 {
				t.Errorf("agreement %.3f, want nearly 1", c.Laps.Agreement)
			}
			if len(c.Repeats) != tt.repeats {
				t.Errorf("%d repeats, want %d: %.0f", len(c.Repeats), tt.repeats, c.Repeats)
			}
			if len(c.OtherCircuits) != len(tt.others) {
				t.Fatalf("other circuits %+v, want %+v", c.OtherCircuits, tt.others)
			}
			for i, want := range tt.others {
				got := c.OtherCircuits[i]
				end := want.StartM + float64(want.Count)*want.LengthM
				if got.Count != want.Count || math.Abs(got.StartM-want.StartM) > 3 || math.Abs(got.EndM-end) > 6 || got.Agreement < 0.98 {
					t.Errorf("other circuit %+v, want %+v", got, want)
				}
			}
			checkParts(t, c)
		})
	}
}

// checkParts checks that the parts follow each other from start to end.
func checkParts(t interface{ Errorf(string, ...any) }, c *Course) {
	at, laps := 0.0, 0
	for _, p := range c.Parts {
		if p.StartM != at || p.EndM <= p.StartM {
			t.Errorf("part %s from %v to %v, the one before ends at %v", p.Kind, p.StartM, p.EndM, at)
		}
		if p.Kind == Lap {
			laps++
		}
		if (p.Kind == Lap) != (p.Lap > 0) || p.Lap > 0 && p.Lap != laps {
			t.Errorf("part %s has lap %d, want %d", p.Kind, p.Lap, laps)
		}
		at = p.EndM
	}
	if at != c.LengthM() || laps != c.Laps.Count {
		t.Errorf("parts end at %v of %v with %d of %d laps", at, c.LengthM(), laps, c.Laps.Count)
	}
}

func TestRepeatIsMeasured(t *testing.T) {
	c := built(t, start().to(1500, 0).to(1500, 900).to(0, 900).to(0, 0).to(1500, 0).to(1500, -600).to(0, -600).to(0, 0).points(47, 11, 0))
	want := Repeat{0, 1500, 4800, 6300}
	if len(c.Repeats) != 1 {
		t.Fatalf("repeats %v, want one", c.Repeats)
	}
	r := c.Repeats[0]
	for _, d := range []float64{r.StartM - want.StartM, r.EndM - want.EndM, r.AgainStartM - want.AgainStartM, r.AgainEndM - want.AgainEndM} {
		if math.Abs(d) > 45 {
			t.Errorf("repeat %.0f, want %.0f", r, want)
		}
	}
}

func TestLapsWherever(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lat := rapid.OneOf(rapid.Float64Range(-70, 70), rapid.Float64Range(89.97, 90), rapid.Float64Range(-90, -89.97)).Draw(t, "lat")
		lon := rapid.OneOf(rapid.Float64Range(-180, 180), rapid.Float64Range(179.99, 180)).Draw(t, "lon")
		turn := rapid.Float64Range(0, 360).Draw(t, "turn")
		n := rapid.IntRange(2, 8).Draw(t, "laps")
		width, height := rapid.Float64Range(150, 1500).Draw(t, "width"), rapid.Float64Range(150, 1500).Draw(t, "height")
		lead := rapid.Float64Range(300, 2000).Draw(t, "lead-in")
		out := rapid.Float64Range(300, 2000).Draw(t, "run-out")
		line := start().to(lead, 0).rectangle(width, height, n).to(lead, -out)
		lap := 2 * (width + height)
		c := built(t, line.points(lat, lon, turn))
		checkParts(t, c)
		back := built(t, line.reversed().points(lat, lon, turn))
		if c.Laps.Count != n || back.Laps.Count != n {
			t.Fatalf("%d laps, backwards %d, want %d", c.Laps.Count, back.Laps.Count, n)
		}
		for k, x := range c.lapLines() {
			if want := lead + float64(k)*lap; math.Abs(x-want) > 10 {
				t.Errorf("line %d at %.1f, want %.1f", k, x, want)
			}
		}
		at := rapid.Float64Range(0, c.LengthM()).Draw(t, "at")
		checkPasses(t, c, at)
	})
}

// checkPasses checks that each pass of a position has the same passes, and the lap
// where there is one.
func checkPasses(t *rapid.T, c *Course, at float64) {
	passes := c.Passes(at)
	if c.LapAt(at) > 0 && len(passes) < c.Laps.Count {
		t.Errorf("%d passes of %.0f, want %d: %.0f", len(passes), at, c.Laps.Count, passes)
	}
	held := false
	for k, x := range passes {
		held = held || math.Abs(x-at) < 0.6
		if k > 0 && x <= passes[k-1] {
			t.Errorf("passes %v out of order", passes)
		}
	}
	if !held {
		t.Errorf("passes %.1f of %.1f lack it", passes, at)
	}
}

func TestPassesOfStretchOnLaps(t *testing.T) {
	c := built(t, start().to(500, 0).rectangle(1000, 400, 4).to(500, -900).points(47, 11, 30))
	got := c.PassesOf(500+200, 500+900)
	if len(got) != 4 {
		t.Fatalf("passes %.0f, want 4", got)
	}
	for k, p := range got {
		if want := 700 + 2800*float64(k); math.Abs(p[0]-want) > 1 || math.Abs(p[1]-want-700) > 1 {
			t.Errorf("pass %d is %.1f, want [%.0f %.0f]", k, p, want, want+700)
		}
	}
	if over := c.PassesOf(500+2500, 500+3100); len(over) != 3 {
		t.Errorf("passes over the line %.0f, want 3", over)
	}
}

func TestMarks(t *testing.T) {
	at := func(e, n float64) geodesy.Vec { return sketch{{e, n}}.points(47, 11, 0)[0].Pos }
	c := built(t, start().rectangle(1000, 400, 3).points(47, 11, 0),
		track.Mark{Name: "line", Kind: track.Sprint, Pos: at(2, -3)},
		track.Mark{Name: "far side", Pos: at(503, 412)},
		track.Mark{Name: "farm", Pos: at(500, -120)},
		track.Mark{Name: "elsewhere", Pos: at(500, -900)},
	)
	want := []struct {
		off float64
		at  []float64
	}{
		{3, []float64{0, 2800, 5600, 8400}},
		{12, []float64{1897, 4697, 7497}},
		{120, []float64{500, 3300, 6100}},
	}
	if len(c.Marks) != len(want) {
		t.Fatalf("%d marks, want %d", len(c.Marks), len(want))
	}
	for i, m := range c.Marks {
		if math.Abs(m.OffCourseM-want[i].off) > 0.5 || len(m.At) != len(want[i].at) {
			t.Errorf("%s: %.1f m off, passed at %.1f; want %v", m.Name, m.OffCourseM, m.At, want[i])
			continue
		}
		for k, x := range m.At {
			if math.Abs(x-want[i].at[k]) > 1.5 {
				t.Errorf("%s: passed at %.1f, want %.1f", m.Name, m.At, want[i].at)
			}
		}
	}
	if n := len(c.Quality.Warnings); n != 2 {
		t.Errorf("%d warnings, want 2: %v", n, c.Quality.Warnings)
	}
}

func TestMarkOutAndBack(t *testing.T) {
	place := sketch{{1000, 5}}.points(47, 11, 0)[0].Pos
	c := built(t, start().to(4000, 0).to(0, 0).points(47, 11, 0), track.Mark{Name: "bridge", Pos: place})
	if got := c.Marks[0].At; len(got) != 2 || math.Abs(got[0]-1000) > 1 || math.Abs(got[1]-7000) > 1 {
		t.Errorf("passed at %.1f, want 1000 and 7000", got)
	}
}

func TestDeclaredLaps(t *testing.T) {
	lap := &track.Track{Points: start().to(1500, 0).to(1500, 900).to(0, 900).to(0, 0).to(1500, 0).to(1500, -600).to(0, -600).to(0, 0).points(47, 11, 0)}
	lap.Marks = []track.Mark{{Name: "gate", Pos: sketch{{700, 2}}.points(47, 11, 0)[0].Pos}}
	opt := Defaults()
	opt.Laps = 3
	c, err := FromTrack(context.Background(), lap, opt)
	if err != nil {
		t.Fatal(err)
	}
	checkParts(t, c)
	l := c.LengthM() / 3
	if c.Laps.Source != LapsDeclared || c.Laps.Agreement != 1 || c.Laps.LengthM != l || c.Shape != Lapped {
		t.Errorf("laps %+v, shape %s", c.Laps, c.Shape)
	}
	passes := c.Passes(2000)
	if len(passes) != 3 || passes[1] != 2000+l || passes[2] != 2000+2*l {
		t.Errorf("passes of 2000 m: %v, want a lap of %v apart", passes, l)
	}
	if shared := c.Passes(700 + l); len(shared) != 6 {
		t.Errorf("passes of the shared road: %.0f, want 6", shared)
	}
	if got := c.Marks[0].At; len(got) != 6 {
		t.Errorf("mark on the shared road passed at %.0f, want 6 passes", got)
	}
	if len(c.Repeats) != 1 {
		t.Errorf("repeats %.0f, want that of the first lap", c.Repeats)
	}
}

func TestProfileWithoutPositions(t *testing.T) {
	opt := Defaults()
	opt.Laps = 4
	c, err := FromProfile(context.Background(), []float64{0, 500, 1000}, []float64{10, 30, 10}, opt)
	if err != nil {
		t.Fatal(err)
	}
	if got := c.Passes(1300); len(got) != 4 || got[0] != 300 || got[1] != 1300 {
		t.Errorf("passes %v, want 300, 1300, 2300, 3300", got)
	}
	if got := c.Passes(1000); len(got) != 5 {
		t.Errorf("passes of the line %v, want 5", got)
	}
	opt.Laps = 0
	if c, err = FromProfile(context.Background(), []float64{0, 500, 1000}, []float64{10, 30, 10}, opt); err != nil || c.Laps.Count != 0 {
		t.Errorf("laps %v, %v", c.Laps, err)
	}
	if got := c.Passes(300); len(got) != 1 || got[0] != 300 {
		t.Errorf("passes %v, want 300 alone", got)
	}
}

// TestCrawlingAboutEnds is about a line that stays in one place and runs over itself
// in every direction: it holds runs that fall behind their own other pass.
func TestCrawlingAboutEnds(t *testing.T) {
	crawl := start()
	rng := rand.New(rand.NewPCG(1, 2))
	e, n := 0.0, 0.0
	for range 1000 {
		e, n = e*0.98+10*rng.NormFloat64(), n*0.98+10*rng.NormFloat64()
		crawl = append(crawl, [2]float64{e, n})
	}
	c := lineCourse(crawl.points(47, 11, 0))
	c.structure(context.Background(), declaredLaps{}, nil)
	if got := c.Parts[len(c.Parts)-1].EndM; got != c.LengthM() {
		t.Errorf("the parts end at %v m of %v m", got, c.LengthM())
	}
}
