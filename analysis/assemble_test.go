package analysis_test

import (
	"context"
	"math"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/terrain"
)

// raceOfParts puts the Morvask race together: the way to the circuit out of the whole
// file, five laps and half a lap more out of the lap's, the climb out of the whole file
// again.
func raceOfParts(t *testing.T, whole, lap *course.Course) *course.Course {
	t.Helper()
	line, leave := whole.Laps.StartM, 3700.0
	last := line + float64(whole.Laps.Count)*whole.Laps.LengthM
	c, err := course.Assemble(context.Background(), []course.Piece{
		{Course: whole, ToM: line},
		{Course: lap, Repeat: whole.Laps.Count},
		{Course: lap, ToM: leave},
		{Course: whole, FromM: last + leave},
	}, course.AssembleOptions{AscentThresholdM: 1})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// A lap's file and the rest of a race make the race of its whole file.
func TestPartsMakeTheRace(t *testing.T) {
	lap := readSeason(t, "morvask-laps-and-climb-lap.gpx", 0)
	for _, file := range []string{"morvask-laps-and-climb.gpx", "morvask-laps-and-climb-recorded.gpx", "morvask-laps-and-climb-barometer.gpx", "morvask-laps-and-climb-rounded.gpx"} {
		t.Run(file, func(t *testing.T) {
			whole := readSeason(t, file, 0)
			c := raceOfParts(t, whole, lap)
			for _, w := range c.Quality.Warnings {
				t.Logf("%s at %.0f m: %s", w.Code, w.AtM, w.Detail)
			}
			if c.Shape != whole.Shape || c.Laps.Count != whole.Laps.Count || c.Laps.Source != course.LapsDeclared {
				t.Fatalf("%s with %d laps %s, want %s with %d", c.Shape, c.Laps.Count, c.Laps.Source, whole.Shape, whole.Laps.Count)
			}
			within(t, "length", c.LengthM(), whole.LengthM(), 0.003*whole.LengthM())
			up, want := c.AscentM(0, c.LengthM()), whole.AscentM(0, whole.LengthM())
			within(t, "ascent", up, want, math.Max(0.02*want, 5))
			for i, at := range boundaries(c) {
				within(t, "lap line", at, boundaries(whole)[i], 0.003*whole.LengthM())
			}
			for i, m := range whole.Marks {
				if i >= len(c.Marks) || len(c.Marks[i].At) != len(m.At) {
					t.Errorf("mark %q passed at %.0f; marks %+v", m.Name, m.At, c.Marks)
					break
				}
			}
			sameClimbs(t, dissect(c).Climbs, dissect(whole).Climbs)
		})
	}
}

func within(t *testing.T, what string, got, want, by float64) {
	t.Helper()
	t.Logf("%s %.1f, want %.1f", what, got, want)
	if math.Abs(got-want) > by {
		t.Errorf("%s %.1f, want %.1f within %.1f", what, got, want, by)
	}
}

// sameClimbs demands the same climbs at the same places, within what noise moves them.
func sameClimbs(t *testing.T, got, want []terrain.Climb) {
	t.Helper()
	outer := func(all []terrain.Climb) (some []terrain.Climb) {
		for _, c := range all {
			if c.ParentID == "" {
				some = append(some, c)
			}
		}
		return some
	}
	got, want = outer(got), outer(want)
	if len(got) != len(want) {
		t.Fatalf("%d climbs, want %d", len(got), len(want))
	}
	for i := range want {
		within(t, "passes", float64(len(got[i].Passes)), float64(len(want[i].Passes)), 0)
		within(t, "gain", got[i].GainM, want[i].GainM, 3)
		within(t, "foot", got[i].StartM, want[i].StartM, 150)
	}
}
