package duel

import (
	"math"
	"slices"
	"testing"

	"parcours.example/analysis/ride"
)

func TestScaledSteps(t *testing.T) {
	inf := math.Inf(1)
	given := []ride.Step{{EndM: 1000, PowerW: 100}, {EndM: 2000, PowerW: 200}}
	for _, c := range []struct {
		fromM, toM float64
		want       []ride.Step
	}{
		{0, inf, []ride.Step{{EndM: 1000, PowerW: 300}, {EndM: inf, PowerW: 600}}},
		{0, 2500, []ride.Step{{EndM: 1000, PowerW: 300}, {EndM: 2500, PowerW: 600}, {EndM: inf, PowerW: 200}}},
		{500, 800, []ride.Step{{EndM: 500, PowerW: 100}, {EndM: 800, PowerW: 300}, {EndM: 1000, PowerW: 100}, {EndM: inf, PowerW: 200}}},
		{1000, 1500, []ride.Step{{EndM: 1000, PowerW: 100}, {EndM: 1500, PowerW: 600}, {EndM: inf, PowerW: 200}}},
	} {
		if got := scaled(given, c.fromM, c.toM, 3); !slices.Equal(got, c.want) {
			t.Errorf("from %v m to %v m: %v, not %v", c.fromM, c.toM, got, c.want)
		}
	}
}
