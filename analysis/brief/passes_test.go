package brief

import (
	"strings"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/terrain"
)

// TestPasses holds how passes are told by where and how often they are.
func TestPasses(t *testing.T) {
	level := []ramp{{10000, 0}}
	lapped := build("", course.Lapped, stretch{course.LeadIn, 1, level}, stretch{course.Lap, 2, level}, stretch{course.RunOut, 1, level})
	whole := build("", course.PointToPoint, stretch{course.Whole, 1, []ramp{{40000, 0}}})
	for _, c := range []struct {
		desc   string
		course *course.Course
		at     []float64
		want   string
	}{
		{"once", whole, []float64{12340}, "at 12.3 km, 27.7 km to go"},
		{"again without laps", whole, []float64{12340, 30000}, "first at 12.3 km, 27.7 km to go; again at 30.0 km, 10.0 km to go"},
		{"start", whole, []float64{0}, "at the start"},
		{"finish", whole, []float64{40000}, "at the finish"},
		{
			"every part", lapped,
			[]float64{5000, 12000, 22000, 32000},
			"on the lead-in at 5.0 km, 35.0 km to go; lap 1 at 12.0 km, 28.0 km to go; lap 2 at 22.0 km, 18.0 km to go; on the run-out at 32.0 km, 8.0 km to go",
		},
		{"lead-in, then run-out", lapped, []float64{5000, 32000}, "on the lead-in at 5.0 km, 35.0 km to go; on the run-out at 32.0 km, 8.0 km to go"},
		{"twice a lap", lapped, []float64{12000, 13000}, "lap 1 at 12.0 km, 28.0 km to go; again at 13.0 km, 27.0 km to go"},
		{"finish of a run-out", lapped, []float64{40000}, "at the finish"},
		{
			"many", whole, every(1000, 1000, 7),
			"seven passes, km covered / to go: 1.0 / 39.0, 2.0 / 38.0, 3.0 / 37.0, 4.0 / 36.0, 5.0 / 35.0, 6.0 / 34.0, 7.0 / 33.0",
		},
	} {
		w := writer{in: Input{Course: c.course}}
		var passes []pass
		for _, at := range c.at {
			passes = append(passes, pass{c.course.LapAt(at), at, c.course.LengthM() - at})
		}
		if got := w.passes("x", passes).text; got != c.want {
			t.Errorf("%s: %q, want %q", c.desc, got, c.want)
		}
	}
}

// TestKeyClimb holds which climb the race is said to turn on.
func TestKeyClimb(t *testing.T) {
	of := func(gain, gradient float64, atFinish bool, parent string) terrain.Climb {
		return terrain.Climb{GainM: gain, Stretch: terrain.Stretch{MeanGradientPct: gradient}, EndsAtFinish: atFinish, ParentID: parent}
	}
	for _, c := range []struct {
		desc   string
		climbs []terrain.Climb
		want   int
	}{
		{"none", nil, -1},
		{"the hardest", []terrain.Climb{of(100, 5, false, ""), of(200, 6, false, ""), of(150, 6, false, "")}, 1},
		{"a step of noise", []terrain.Climb{of(40, 9, false, ""), of(13, 66, false, "")}, 0},
		{"steep parts don't count", []terrain.Climb{of(200, 5, false, ""), of(150, 12, false, "climb-1")}, 0},
		{"at the line, half as hard", []terrain.Climb{of(200, 6, false, ""), of(120, 6, true, "")}, 1},
		{"at the line, a ramp", []terrain.Climb{of(200, 6, false, ""), of(20, 6, true, "")}, 0},
	} {
		w := writer{in: Input{Terrain: &terrain.Terrain{Climbs: c.climbs}}}
		if got := w.key(); got != c.want {
			t.Errorf("%s: %d, want %d", c.desc, got, c.want)
		}
	}
}

// TestSurpriseBeforePlan holds that what decides outlives the plan where the plan
// alone would mislead.
func TestSurpriseBeforePlan(t *testing.T) {
	in := hilltop()
	in.MaxChars = 240
	got := Write(in).Text
	if !strings.Contains(got, "79 % of the climbing") || strings.Contains(got, "lead-in") {
		t.Errorf("within %d code points:\n%s", in.MaxChars, got)
	}
}
