package brief

import (
	"strings"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/terrain"
)

// Checks against what others have published or commonly do.

// A course with a climb to the line can hold three quarters of its ascent before
// that climb, and a brief must say so instead of calling the way there flat
// [common practice].
func TestClimbToTheLineIsNotCalledFlat(t *testing.T) {
	in := hilltop()
	if share := in.Terrain.Climbing.ShareBeforeLastClimb; share < 0.7 || share > 0.8 {
		t.Fatalf("the course holds %.2f of its ascent before the last climb", share)
	}
	for _, limit := range []int{280, 350, 0} {
		in.MaxChars = limit
		if got := Write(in).Text; !strings.Contains(got, "79 % of the climbing comes before") || strings.Contains(got, "flat") {
			t.Errorf("within %d code points:\n%s", limit, got)
		}
	}
}

// A finishing climb that averages 6–7 % can hold three sections with pitches of
// 17–19 % [common practice]; each must be told.
func TestPitchesOfAFinishingClimb(t *testing.T) {
	c := build("Upper Arvane", course.PointToPoint, stretch{course.Whole, 1, []ramp{
		{20000, 0}, {900, 6}, {40, 18}, {400, 2}, {300, 9}, {40, 17}, {500, 4}, {400, 9}, {30, 19}, {300, 4},
	}})
	k := climb(c, 1, "Fold", []float64{20000}, 940, 1340, 1680, 2180, 2610, 2910)
	if k.MeanGradientPct < 6 || k.MeanGradientPct > 7 {
		t.Fatalf("mean %.1f %%", k.MeanGradientPct)
	}
	got := Write(Input{Course: c, Terrain: dissected(c, []terrain.Climb{k}, nil)}).Text
	for _, pitch := range []string{"25 m at 18 %", "25 m at 17 %", "25 m at 19 %"} {
		if !strings.Contains(got, pitch) {
			t.Errorf("%s isn't told in\n%s", pitch, got)
		}
	}
}

// Road books print the passage of km 100 at 38, 40 and 42 km/h as 2:37:54, 2:30:00
// and 2:22:51 after the start [common practice; the arithmetic recomputed].
func TestPassageTimes(t *testing.T) {
	for kmh, want := range map[float64]string{38: "2:37:54", 40: "2:30:00", 42: "2:22:51"} {
		if got := (format{}).clock("", 100/kmh*3600).text; got != want {
			t.Errorf("km 100 at %v km/h: %s, want %s", kmh, got, want)
		}
	}
}

// In a road book, distance done and to go sum to the stage on every line [common
// practice]. Each is rounded by itself here, so the sum holds to the last digit.
func TestDoneAndToGoSumToTheCourse(t *testing.T) {
	in := hilltop()
	for _, m := range in.Terrain.Marks {
		for _, p := range m.Passes {
			if sum := p.AtM + p.ToFinishM; sum < in.Course.LengthM()-1e-6 || sum > in.Course.LengthM()+1e-6 {
				t.Errorf("%s: %v + %v", m.Name, p.AtM, p.ToFinishM)
			}
		}
	}
}

// The international yard and pound agreement of 1959: 1 mile = 1609.344 m, 1 ft =
// 0.3048 m, 1 lb = 0.45359237 kg [from memory].
func TestInternationalUnits(t *testing.T) {
	f := format{imperial: true}
	for got, want := range map[string]string{
		f.length("", 160934.4).text:      "100.0 miles",
		f.height("", 304.8).text:         "1000 ft",
		f.mass("", 45.359237).text:       "100 lb",
		f.speed("", 1609.344/3600).text:  "1.0 mph",
		f.speed("", 16093.44/3600).text:  "10.0 mph",
		f.window("", 0.3048*82.02).text:  "82 ft",
		f.length("", 1609.344*2.25).text: "2.3 miles",
	} {
		if got != want {
			t.Errorf("got %s, want %s", got, want)
		}
	}
}
