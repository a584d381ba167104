package engine

import (
	"math"
	"reflect"
	"testing"

	"parcours.example/analysis/ride"
)

func TestShiftSteps(t *testing.T) {
	inf := math.Inf(1)
	steps := []ride.Step{{EndM: 100, PowerW: 1}, {EndM: 200, PowerW: 2}, {EndM: 300, PowerW: 3}}
	for _, tc := range []struct {
		from float64
		want []ride.Step
	}{
		{0, steps},
		{50, []ride.Step{{EndM: 50, PowerW: 1}, {EndM: 150, PowerW: 2}, {EndM: inf, PowerW: 3}}},
		{100, []ride.Step{{EndM: 100, PowerW: 2}, {EndM: inf, PowerW: 3}}},
		{250, []ride.Step{{EndM: inf, PowerW: 3}}},
		{999, []ride.Step{{EndM: inf, PowerW: 3}}},
	} {
		got := shiftSteps(ride.Effort{Kind: ride.BySteps, Steps: steps}, tc.from)
		if !reflect.DeepEqual(got.Steps, tc.want) {
			t.Errorf("from %v: %v, want %v", tc.from, got.Steps, tc.want)
		}
	}
}

func TestShiftSurfaces(t *testing.T) {
	surfaces := []ride.Surface{{StartM: 100, EndM: 200, CrrFactor: 1.5}, {StartM: 300, EndM: 400, CrrFactor: 2}}
	for _, tc := range []struct {
		from float64
		want []ride.Surface
	}{
		{0, surfaces},
		{150, []ride.Surface{{StartM: 0, EndM: 50, CrrFactor: 1.5}, {StartM: 150, EndM: 250, CrrFactor: 2}}},
		{200, []ride.Surface{{StartM: 100, EndM: 200, CrrFactor: 2}}},
		{500, nil},
	} {
		if got := shiftSurfaces(surfaces, tc.from); !reflect.DeepEqual(got, tc.want) {
			t.Errorf("from %v: %v, want %v", tc.from, got, tc.want)
		}
	}
}
