package brief

import (
	"strings"
	"testing"
)

// TestPredictions holds what is told of set-ups, close times and the line.
func TestPredictions(t *testing.T) {
	in := hilltop()
	in.Rides[1].Setup = in.Rides[0].Setup
	in.Rides[1].TimeS = in.Rides[0].TimeS + 12
	in.Terrain.Marks[1].Passes = in.Terrain.Marks[1].Passes[3:]
	in.Terrain.Marks[1].Passes[0].ToFinishM = 0
	in.Rides[0].MarkClocksS = [][]float64{{512, 1700, 2890, 4075}, {4330}}
	b := Write(in)
	if !strings.Contains(b.Text, "Predicted: all close to 1:32:10.") {
		t.Errorf("close times:\n%s", b.Sections[0].Lines)
	}
	told := section(b, "Predicted times")
	if strings.Contains(told[0], "light") || !strings.HasPrefix(told[0], "Marta Venn: ") {
		t.Errorf("the one set-up is told: %q", told[0])
	}
	if strings.Contains(told[0], "Quarry Bank 1:12:10") {
		t.Errorf("the line is told twice: %q", told[0])
	}
}

// TestOnlyRideIsToldOnce holds that the figures of the only ride stand in the opening
// alone, and the time on a climb that is the whole course nowhere else.
func TestOnlyRideIsToldOnce(t *testing.T) {
	in := hillClimb()
	r := hilltop().Rides[0]
	r.ClimbTimesS, r.PartTimesS, r.MarkClocksS, r.Food, r.Band = [][]float64{{r.TimeS}}, nil, nil, nil, nil
	in.Rides = []Ride{r}
	b := Write(in)
	if got := section(b, "Predicted times"); got != nil || strings.Count(b.Text, "1:32:10 at 232 W, 36.6 km/h") != 1 {
		t.Errorf("%q and\n%s", got, b.Text)
	}
}
