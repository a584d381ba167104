package brief

import (
	"testing"

	"parcours.example/analysis/course"
)

// TestPassesByLap holds when passes are told by the rule, and how.
func TestPassesByLap(t *testing.T) {
	level := func(m float64) []ramp { return []ramp{{m, 0}} }
	alone := build("", course.Lapped, stretch{course.Lap, 5, level(10_000)})
	within := build("", course.Lapped, stretch{course.LeadIn, 1, level(4000)}, stretch{course.Lap, 5, level(10_000)}, stretch{course.RunOut, 1, level(3000)})
	for _, c := range []struct {
		desc   string
		course *course.Course
		at     []float64
		want   string
	}{
		{"each lap", alone, every(2000, 10_000, 5), "2.0 km into each lap, last at 42.0 km with 8.0 km to go"},
		{"after a lead-in", within, every(6000, 10_000, 5), "2.0 km into each lap, first at 6.0 km, last at 46.0 km with 11.0 km to go"},
		{"some laps", alone, every(12_000, 10_000, 3), "2.0 km into laps 2 to 4, first at 12.0 km, last at 32.0 km with 18.0 km to go"},
		{"two laps alone", alone, every(12_000, 10_000, 2), "lap 2 at 12.0 km, 38.0 km to go; lap 3 at 22.0 km, 28.0 km to go"},
		{
			"and on the run-out", within, every(6000, 10_000, 6),
			"2.0 km into each lap, first at 6.0 km, last at 46.0 km with 11.0 km to go; also on the run-out at 56.0 km, 1.0 km to go",
		},
		{"as far as can be told", alone, []float64{2000, 12_050, 21_960}, "2.0 km into laps 1 to 3, last at 22.0 km with 28.0 km to go"},
		{"not as far", alone, []float64{2000, 12_000, 22_060}, "lap 1 at 2.0 km, 48.0 km to go; lap 2 at 12.0 km, 38.0 km to go; lap 3 at 22.1 km, 27.9 km to go"},
		{"a lap left out", alone, []float64{2000, 22_000, 32_000}, "lap 1 at 2.0 km, 48.0 km to go; lap 3 at 22.0 km, 28.0 km to go; lap 4 at 32.0 km, 18.0 km to go"},
		{"the lap line", alone, every(10_000, 10_000, 5), "five times on the lap line, first at 10.0 km, last at the finish"},
		{"the lap line from the start on", alone, every(0, 10_000, 6), "six times on the lap line, first at the start, last at the finish"},
		{"at the start of laps", within, every(14_000, 10_000, 3), "three times on the lap line, first at 14.0 km, last at 34.0 km with 23.0 km to go"},
	} {
		w := writer{in: Input{Course: c.course}}
		var passes []pass
		for _, at := range c.at {
			passes = append(passes, pass{c.course.LapAt(at), at, c.course.LengthM() - at})
		}
		if got := w.passes("x", passes).text; got != c.want {
			t.Errorf("%s:\n%q, want\n%q", c.desc, got, c.want)
		}
	}
}
