package terrain

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/course"
	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

// bendy makes a level course of 3 km with a hairpin to the left at 1000 m (radius
// 20 m), a right-hand corner at 2000 m (radius 50 m) and a sweep too wide to count.
func bendy() *course.Course {
	c := ramps(0, ramp{3000, 0}).every(10).course()
	c.Pos = make([]geodesy.Vec, len(c.S))
	c.Curvature = make([]float64, len(c.S))
	for i := range 7 {
		c.Curvature[97+i] = -1.0 / 20
	}
	for i := range 8 {
		c.Curvature[200+i] = 1.0 / 50
		c.Curvature[100+150+i] = 1.0 / 150
	}
	c.Curvature[203] = 1.0 / 40
	return c
}

func TestBends(t *testing.T) {
	got := dissect(bendy()).Bends
	want := []Bend{
		{AtM: 970, RadiusM: 20, TurnDeg: -70.0 / 20 * 180 / math.Pi},
		{AtM: 2030, RadiusM: 40, TurnDeg: (70.0/50 + 10.0/40) * 180 / math.Pi},
	}
	if len(got) != len(want) {
		t.Fatalf("got %+v", got)
	}
	for i, w := range want {
		g := got[i]
		if g.AtM != w.AtM || math.Abs(g.RadiusM-w.RadiusM) > 1e-9 || math.Abs(g.TurnDeg-w.TurnDeg) > 1e-9 {
			t.Errorf("got %+v, want %+v", g, w)
		}
	}
}

func TestAnSBendIsTwoBends(t *testing.T) {
	c := bendy()
	for i := range 8 {
		c.Curvature[104+i] = 1.0 / 30
	}
	got := dissect(c).Bends
	if len(got) != 3 || got[0].TurnDeg > 0 || got[1].TurnDeg < 0 || got[1].RadiusM != 30 {
		t.Errorf("got %+v", got)
	}
}

func TestMarks(t *testing.T) {
	c := bendy()
	for i, s := range c.S {
		c.Z[i] = 0.05 * max(0, s-2900)
	}
	addUp(c)
	c.Parts = []course.Part{
		{Kind: course.LeadIn, EndM: 1000},
		{Kind: course.Lap, Lap: 1, StartM: 1000, EndM: 2000},
		{Kind: course.Lap, Lap: 2, StartM: 2000, EndM: 3000},
	}
	c.Marks = []course.Mark{
		{Name: "Mill Lane", Kind: track.Sprint, OffCourseM: 3, At: []float64{2100, 3000}},
		{Name: "Old bridge", Kind: track.Gate, At: []float64{0, 1000, 2000, 3000}},
		{Name: "Nowhere", Kind: track.Other},
	}
	got := dissect(c).Marks
	if len(got) != 3 || got[0].ID != "mark-1" || got[0].Name != "Old bridge" || got[1].Name != "Mill Lane" || got[2].Name != "Nowhere" {
		t.Fatalf("got %+v", got)
	}
	laps := []int{0, 1, 2, 2}
	for i, p := range got[0].Passes {
		if p.Lap != laps[i] || p.ToFinishM != 3000-p.AtM {
			t.Errorf("pass %d: %+v, want lap %d", i, p, laps[i])
		}
	}
	if p := got[0].Passes[0]; !math.IsNaN(p.GradientPct) || p.Approach != nil {
		t.Errorf("nothing lies before the start: %+v", p)
	}
	if p := got[1].Passes[0]; p.Approach[0].Bends != 1 || p.Approach[0].SharpestRadiusM != 40 {
		t.Errorf("the hairpin is more than 1000 m before, the corner is not: %+v", p)
	}
	line := got[1].Passes[1]
	if math.Abs(line.AscentBeforeM-5) > 1e-9 || line.AscentAfterM != 0 || math.Abs(got[1].Passes[0].AscentAfterM-5) > 1e-9 {
		t.Errorf("ascent before and after: %+v", got[1].Passes)
	}
	if math.Abs(line.GradientPct-5) > 1e-9 || len(line.Approach) != 3 {
		t.Fatalf("at the line %+v", line)
	}
	for i, mean := range []float64{0.5, 1, 2.5} {
		a := line.Approach[i]
		if a.DistanceM != approachesM()[i] || math.Abs(a.MeanGradientPct-mean) > 1e-9 || math.Abs(a.MaxGradientPct-5) > 1e-9 {
			t.Errorf("got %+v, want mean %g, max 5", a, mean)
		}
	}
	if a := line.Approach[0]; a.Bends != 1 || a.SharpestRadiusM != 40 {
		t.Errorf("got %+v", a)
	}
	if a := line.Approach[2]; a.Bends != 0 || a.SharpestRadiusM != 0 {
		t.Errorf("got %+v", a)
	}
}

func TestNameOfTheSummit(t *testing.T) {
	c := ramps(0, ramp{1000, 0}, ramp{1000, 6}, ramp{2000, -2}).every(10).course()
	c.Marks = []course.Mark{
		{Name: "Foot of it", Kind: track.Other, At: []float64{2000}},
		{Name: "Far side", Kind: track.Summit, At: []float64{2150}},
		{Name: "Hart Hill", Kind: track.Summit, At: []float64{1900}},
		{Name: "Elsewhere", Kind: track.Summit, At: []float64{1790}},
	}
	if got := dissect(c).Climbs[0].Name; got != "Hart Hill" {
		t.Errorf("got %q", got)
	}
	c.Marks = c.Marks[3:]
	if got := dissect(c).Climbs[0].Name; got != "" {
		t.Errorf("got %q", got)
	}
}

func TestDescent(t *testing.T) {
	c := bendy()
	for i, s := range c.S {
		c.Z[i] = 300 - 0.06*min(max(s-500, 0), 2000)
	}
	got := dissect(c).Descents
	if len(got) != 1 {
		t.Fatalf("got %+v", got)
	}
	d := got[0]
	if d.ID != "descent-1" || d.StartM != 500 || d.EndM != 2500 || math.Abs(d.DropM-120) > 1e-9 ||
		math.Abs(d.MeanGradientPct+6) > 1e-9 || math.Abs(d.MaxGradientPct+6) > 1e-9 || d.TopM != 300 {
		t.Errorf("got %+v", d)
	}
	if len(d.SharpestBends) != 2 || d.SharpestBends[0].RadiusM != 20 {
		t.Errorf("got bends %+v", d.SharpestBends)
	}
}

func TestRolling(t *testing.T) {
	// Three rises of 4, 2 (too low) and 6 m outside a climb of 60 m.
	p := ramps(0, ramp{1000, 0}, ramp{200, 2}, ramp{200, -2}, ramp{100, 2}, ramp{100, -2},
		ramp{300, 2}, ramp{300, -2}, ramp{1000, 6}, ramp{1000, -6}, ramp{800, 0})
	got := dissect(p.every(10).course()).Climbing.Rolling
	if math.Abs(got.RisesPerKm-2/4.0) > 1e-9 || math.Abs(got.MeanRiseM-5) > 1e-9 || math.Abs(got.LargestRiseM-6) > 1e-9 {
		t.Errorf("got %+v", got)
	}
	if math.Abs(got.AscentMPerKm-12/4.0) > 1e-9 { // the low rise counts too
		t.Errorf("%g m of ascent per km, want 3", got.AscentMPerKm)
	}
	if s := got.LongestSteady; s.StartM != 0 || math.Abs(s.EndM-1000) > 150 {
		t.Errorf("longest steady %+v", s)
	}
}

func TestADipWithinARise(t *testing.T) {
	p := ramps(0, ramp{200, 2}, ramp{100, -2}, ramp{200, 2}, ramp{300, -2}, ramp{100, 3})
	got := risesOf(p, rollingRiseM)
	if len(got) != 2 || math.Abs(got[0]-6) > 1e-9 || math.Abs(got[1]-3) > 1e-9 {
		t.Errorf("got %v, want 6 and 3 m", got)
	}
}

func TestLongestSteadyStaysWithinOnePoint(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyProfile(t)
		s := longestSteady(p, 25)
		if s.StartM < 0 || s.EndM > p.endM() || s.LengthM() <= 0 {
			t.Fatalf("got %+v on %g m", s, p.lengthM())
		}
		cell := p.lengthM() / math.Max(1, math.Round(p.lengthM()/100))
		for x := s.StartM; x+cell <= s.EndM+1e-6; x += cell {
			if g := 100 * p.gradient(x, math.Min(x+cell, s.EndM)); math.Abs(g-s.MeanGradientPct) > 1+1e-4 {
				t.Fatalf("%g %% at %g m of %+v", g, x, s)
			}
		}
	})
}

func TestGradientBands(t *testing.T) {
	p := ramps(0, ramp{100, -20}, ramp{200, -10}, ramp{300, 0}, ramp{400, 6}, ramp{500, 5.9}, ramp{600, 15}, ramp{700, 14})
	got := gradientBands(p)
	want := []float64{100, 0, 200, 0, 0, 300, 0, 500, 400, 700, 600}
	for i, w := range want {
		if math.Abs(got[i].LengthM-w) > 1e-9 {
			t.Errorf("%g to %g %%: got %g m, want %g", got[i].FromPct, got[i].ToPct, got[i].LengthM, w)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		p := anyProfile(t)
		var sum float64
		for _, b := range gradientBands(p) {
			sum += b.LengthM
		}
		if math.Abs(sum-p.lengthM()) > 1e-6 {
			t.Fatalf("the bands sum to %g of %g m", sum, p.lengthM())
		}
	})
}

func TestClimbingByPart(t *testing.T) {
	lap := ramps(50, ramp{1000, 6}, ramp{1000, -6}, ramp{2000, 0}).every(10)
	got := dissect(lap.laps(4)).Climbing
	if len(got.ByPart) != 4 || math.Abs(got.ByPart[2].Share-0.25) > 1e-9 || math.Abs(got.ByPart[2].AscentM-60) > 1e-9 {
		t.Errorf("got %+v", got.ByPart)
	}
	if math.Abs(got.ShareBeforeLastClimb-0.75) > 1e-9 {
		t.Errorf("before the last climb: %g", got.ShareBeforeLastClimb)
	}
}

func TestCoursesThatLackSomething(t *testing.T) {
	c := bendy()
	c.Z, c.AscentTo, c.DescentTo = nil, nil, nil
	c.Marks = []course.Mark{{Name: "Line", Kind: track.Sprint, At: []float64{3000}}}
	got := dissect(c)
	if got.Climbs != nil || got.Descents != nil || got.Steepest != nil || got.GradientBands != nil || got.Climbing.ByPart != nil {
		t.Errorf("without elevation: %+v", got)
	}
	if !math.IsNaN(got.Climbing.ShareBeforeLastClimb) || !math.IsNaN(got.Climbing.Rolling.RisesPerKm) {
		t.Errorf("without elevation: %+v", got.Climbing)
	}
	if m := got.Marks[0].Passes[0]; !math.IsNaN(m.GradientPct) || !math.IsNaN(m.Approach[0].MaxGradientPct) || m.Approach[0].Bends != 1 {
		t.Errorf("without elevation: %+v", m)
	}
	if len(got.Bends) != 2 {
		t.Errorf("without elevation: %d bends", len(got.Bends))
	}
	flat := dissect(ramps(0, ramp{3000, 0}).course())
	if flat.Bends != nil || flat.Climbs != nil || !math.IsNaN(flat.Climbing.ShareBeforeLastClimb) {
		t.Errorf("level and without positions: %+v", flat)
	}
	if s := flat.Climbing.Rolling.LongestSteady; s.StartM != 0 || s.EndM != 3000 {
		t.Errorf("a level road is steady: %+v", s)
	}
	dissect(ramps(0, ramp{3, 5}).course())
}
