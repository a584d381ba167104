package terrain

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"parcours.example/analysis/course"
)

// climbsTold writes the climbs of a course in a line each: the passes with their laps,
// to 10 m, then what is special.
func climbsTold(c *course.Course) string {
	var lines []string
	for _, k := range dissect(c).Climbs {
		line := k.ID + ":"
		for _, p := range k.Passes {
			line += fmt.Sprintf(" %d:%.0f-%.0f", p.Lap, 10*math.Round(p.StartM/10), 10*math.Round(p.EndM/10))
			if p.Partial {
				line += " partial"
			}
		}
		if k.ParentID != "" {
			line += ", in " + k.ParentID
		}
		if k.PartOfID != "" {
			line += ", part of " + k.PartOfID
		}
		if k.EndsAtFinish {
			line += ", to the finish"
		}
		lines = append(lines, line)
	}
	return strings.Join(lines, "\n")
}

// The corners of a circuit of 5 km: 1500 m up at 6 %, 1 km level, down again, 1 km level.
func block() (foot, half, top place, rest []place) {
	return place{0, 0, 100}, place{0, 750, 145}, place{0, 1500, 190}, []place{{1000, 1500, 190}, {1000, 0, 100}}
}

// blockLaps strings n laps from the foot together, without the return to it.
func blockLaps(n int) []place {
	foot, _, top, rest := block()
	var road []place
	for range n {
		road = append(append(road, foot, top), rest...)
	}
	return road
}

func road(parts ...[]place) []place {
	var all []place
	for _, p := range parts {
		all = append(all, p...)
	}
	return all
}

func TestClimbsOfLaps(t *testing.T) {
	foot, half, top, rest := block()
	upper := road([]place{half, top}, rest) // from the middle of the slope
	for _, tc := range []struct {
		name string
		road []place
		want string
	}{
		{
			"from the foot", road(blockLaps(3), []place{foot}),
			"climb-1: 1:0-1500 2:5000-6500 3:10000-11500",
		},
		{
			"the line in the slope", road(upper, blockLaps(2), []place{foot, half}),
			"climb-1: 1:0-750, part of climb-2\nclimb-2: 1:4250-5750 2:9250-10750 3:14250-15000 partial, to the finish",
		},
		{
			"a level lead-in joins in the slope", road([]place{{-2000, 750, 145}}, upper, blockLaps(3), []place{foot}),
			"climb-1: 0:2000-2750, part of climb-2\nclimb-2: 1:6250-7750 2:11250-12750 3:16250-17750",
		},
		{
			"a lead-in with a climb of its own joins in the slope", road([]place{{-2000, 750, 25}}, upper, blockLaps(3), []place{foot}),
			"climb-1: 0:0-2750\nclimb-2: 1:6250-7750 2:11250-12750 3:16250-17750",
		},
		{
			"the run-out leaves the slope and goes up", road(blockLaps(3), []place{foot, half, {-1000, 750, 205}}),
			"climb-1: 1:0-1500 2:5000-6500 3:10000-11500\nclimb-2: 0:15000-16750, to the finish",
		},
		{
			"the run-out leaves the slope and goes down", road(blockLaps(3), []place{foot, half, {-2000, 750, 105}}),
			"climb-1: 1:0-1500 2:5000-6500 3:10000-11500\nclimb-2: 0:15000-15750, part of climb-1",
		},
		{
			"to the top", road(blockLaps(3), []place{foot, top}),
			"climb-1: 0:0-1500 1:5000-6500 2:10000-11500 3:15000-16500, to the finish",
		},
		{
			"nearly to the top", road(blockLaps(3), []place{foot, {0, 1400, 184}}),
			"climb-1: 0:0-1500 1:5000-6500 2:10000-11500 3:15000-16400 partial, to the finish",
		},
	} {
		if got := climbsTold(laid(t, tc.road...)); got != tc.want {
			t.Errorf("%s: got\n%s\nwant\n%s", tc.name, got, tc.want)
		}
	}
}

func TestClimbsRiddenInMoreWaysThanOne(t *testing.T) {
	for _, tc := range []struct {
		name       string
		road       []place
		want       string
		descentsAt []float64
	}{
		{
			"a hill from two sides",
			[]place{
				{0, 0, 100},
				{1000, 0, 100},
				{2500, 0, 190},
				{4000, 0, 100},
				{4000, 2000, 100},
				{6000, 2000, 100},
				{6000, 0, 100},
				{4000, 0, 100},
				{2500, 0, 190},
				{1000, 0, 100},
				{0, 0, 100},
			},
			"climb-1: 0:1000-2500\nclimb-2: 0:12000-13500",
			[]float64{2500, 13500},
		},
		{
			"out and back",
			[]place{{0, 0, 100}, {2000, 0, 100}, {3500, 0, 190}, {6000, 0, 190}, {3500, 0, 190}, {2000, 0, 100}, {0, 0, 100}},
			"climb-1: 0:2000-3500",
			[]float64{8500},
		},
		{
			"up and down three times",
			[]place{{0, 0, 100}, {1500, 0, 190}, {0, 0, 100}, {1500, 0, 190}, {0, 0, 100}, {1500, 0, 190}, {0, 0, 100}},
			"climb-1: 1:0-1500 2:3000-4500 3:6000-7500",
			[]float64{1500},
		},
	} {
		c := laid(t, tc.road...)
		if got := climbsTold(c); got != tc.want {
			t.Errorf("%s: got\n%s\nwant\n%s", tc.name, got, tc.want)
		}
		descents := dissect(c).Descents
		if len(descents) != len(tc.descentsAt) {
			t.Errorf("%s: descents %+v", tc.name, descents)
			continue
		}
		for i, at := range tc.descentsAt {
			if math.Abs(descents[i].StartM-at) > 5 {
				t.Errorf("%s: a descent at %.0f m, want %.0f", tc.name, descents[i].StartM, at)
			}
		}
	}
}

func TestWhatIsOneClimb(t *testing.T) {
	down := []ramp{{2000, -4}}
	for _, tc := range []struct {
		name string
		of   []ramp
		want string
	}{
		{"two tops", []ramp{{1000, 7}, {300, -3}, {600, 7}}, "climb-1: 0:1000-2900\nclimb-2: 0:1000-2000, in climb-1"},
		{"a short dip", []ramp{{1000, 6}, {150, -6}, {1000, 6}}, "climb-1: 0:1000-3150"},
		{"a dip that costs more than a rise scores", []ramp{{1000, 6}, {300, -12}, {1000, 6}}, "climb-1: 0:1000-2000\nclimb-2: 0:2300-3300"},
		{"a drag of 2.5 % before it", []ramp{{4000, 2.5}, {1500, 8}}, "climb-1: 0:1000-6500\nclimb-2: 0:5000-6500, in climb-1"},
		{"a drag of 1.5 % before it", []ramp{{4000, 1.5}, {1500, 8}}, "climb-1: 0:5000-6500"},
		{"a plateau", []ramp{{1500, 8}, {3000, 1}, {1500, 8}}, "climb-1: 0:1000-7000\nclimb-2: 0:1000-2500, in climb-1\nclimb-3: 0:5500-7000, in climb-1"},
		{"two gentle climbs and a long plateau", []ramp{{8000, 5}, {8000, 0}, {8000, 5}}, "climb-1: 0:1000-25000\nclimb-2: 0:1000-9000, in climb-1\nclimb-3: 0:17000-25000, in climb-1"},
		{"stairs", []ramp{{100, 10}, {200, 0}, {100, 10}, {200, 0}, {100, 10}, {200, 0}, {100, 10}}, "climb-1: 0:1000-2000"},
	} {
		of := append(append([]ramp{{1000, 0}}, tc.of...), down...)
		for _, spacing := range []float64{10, 37} {
			if got := climbsTold(ramps(0, of...).every(spacing).course()); spacing == 10 && got != tc.want {
				t.Errorf("%s: got\n%s\nwant\n%s", tc.name, got, tc.want)
			} else if strings.Count(got, "\n") != strings.Count(tc.want, "\n") {
				t.Errorf("%s, every %g m: got\n%s", tc.name, spacing, got)
			}
		}
	}
}
