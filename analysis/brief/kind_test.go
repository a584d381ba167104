package brief

import (
	"slices"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/terrain"
)

// TestKinds holds what the fixtures are, and the borders between kinds.
func TestKinds(t *testing.T) {
	for name, want := range map[string]kind{
		"criterium": kindCriterium, "hilltop": kindClimbLaps, "rolling": kindRoadRace, "time_trial": kindTimeTrial,
		"mountains": kindMountainStage, "hill_climb": kindHillClimb, "run_in": kindHillClimb, "uphill_laps": kindClimbLaps,
		"no_elevation": kindFlatLaps, "flat_laps": kindFlatLaps, "two_points": kindStraightLine,
	} {
		if got := (writer{in: fixtures()[name]}).kind(); got != want {
			t.Errorf("%s: %d, want %d", name, got, want)
		}
	}
	for _, c := range []struct {
		desc string
		in   Input
		want kind
	}{
		{"laps as short as a criterium's", level(course.Lapped, 5, 3000), kindCriterium},
		{"longer laps", level(course.Lapped, 5, 3010), kindFlatLaps},
		{"too few laps", level(course.Lapped, 4, 3000), kindFlatLaps},
		{"short laps with a climb", withClimb(level(course.Lapped, 9, 1000), 500, 300), kindClimbLaps},
		{"one short loop", level(course.Circuit, 1, 1000), kindRoadRace},
		{"a climb of three quarters of the way", uphill(course.PointToPoint, 1000, 3000, 0), kindHillClimb},
		{"a longer way to it", uphill(course.PointToPoint, 1010, 3000, 0), kindRoadRace},
		{"a climb before it", twoClimbs(), kindRoadRace},
		{"a top before the line", uphill(course.PointToPoint, 0, 3000, 100), kindRoadRace},
		{"a mountain", uphill(course.PointToPoint, 8000, 3800, 2200), kindMountainStage},
		{"a lower one", uphill(course.PointToPoint, 2200, 3700, 2100), kindRoadRace},
		{"one in a long plain", uphill(course.PointToPoint, 16500, 3800, 0), kindRoadRace},
		{"a mountain out and back", uphill(course.OutAndBack, 8000, 3800, 2200), kindMountainStage},
		{"a hill out and back", uphill(course.OutAndBack, 2200, 3700, 2100), kindTimeTrial},
	} {
		if got := (writer{in: c.in}).kind(); got != c.want {
			t.Errorf("%s: %d, want %d", c.desc, got, c.want)
		}
	}
}

// level is a course without a climb, of one stretch or of laps.
func level(shape course.Shape, times int, lengthM float64) Input {
	part := course.Whole
	if shape == course.Lapped {
		part = course.Lap
	}
	c := build("", shape, stretch{part, times, []ramp{{lengthM, 0}}})
	return Input{Course: c, Terrain: dissected(c, nil, nil)}
}

// withClimb lays a climb that is ridden on each lap over a course, whatever its ground.
func withClimb(in Input, from, length float64) Input {
	c := climb(in.Course, 1, "", every(from, in.Course.Laps.LengthM, in.Course.Laps.Count), length)
	c.GainM, c.MeanGradientPct = 0.08*length, 8
	in.Terrain.Climbs = []terrain.Climb{c}
	return in
}

// uphill is level, then climbs at 8 %, then is level again.
func uphill(shape course.Shape, before, length, after float64) Input {
	c := build("", shape, stretch{course.Whole, 1, []ramp{{before, 0}, {length, 8}, {after, 0}}})
	return Input{Course: c, Terrain: dissected(c, []terrain.Climb{climb(c, 1, "", []float64{before}, length)}, nil)}
}

// twoClimbs is a hill climb but for a shorter climb on the way to it.
func twoClimbs() Input {
	in := uphill(course.PointToPoint, 500, 3000, 0)
	short := climb(in.Course, 2, "", []float64{0}, 300)
	in.Terrain.Climbs = append([]terrain.Climb{short}, in.Terrain.Climbs...)
	return in
}

// TestSectionsByKind holds which sections a course gets, in their order.
func TestSectionsByKind(t *testing.T) {
	for name, want := range map[string][]string{
		"criterium":   {"", "Each lap", "Lines and places", "Predicted times"},
		"hill_climb":  {"", "The climb, section by section", "The road"},
		"mountains":   {"", "Up and down", "Predicted times", "Lines and places", "The road", "How far to trust the file"},
		"time_trial":  {"", "Out and back", "Predicted times", "The road"},
		"uphill_laps": {"", "The climb", "Each lap", "The road"},
		"rolling":     {"", "Lines and places", "The road"},
		"flat_laps":   {"", "Each lap", "Lines and places"},
		"two_points":  {""},
	} {
		var got []string
		for _, s := range Write(fixtures()[name]).Sections {
			got = append(got, s.Heading)
		}
		if !slices.Equal(got, want) {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
	}
}
