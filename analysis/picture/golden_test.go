package picture

import (
	"testing"

	"parcours.example/analysis/colour"
	"parcours.example/analysis/wording"
	"parcours.example/internal/golden"
)

// TestGolden holds a few pictures as they were looked at.
func TestGolden(t *testing.T) {
	for name, in := range map[string]struct {
		course string
		Input
	}{
		"profile.svg": {"morvask-laps-and-climb", Input{Focus: OfCourse, WidthPx: 640}},
		"climb.svg":   {"skarnholt-hill-climb", Input{Focus: "climb-1", WidthPx: 480, Theme: colour.Dark, Units: wording.Units{Imperial: true}}},
		"laps.svg":    {"quellmere-criterium", Input{Focus: OfLaps, WidthPx: 480, Theme: colour.Print}},
		"map.svg":     {"hoskerrow-eight", Input{Focus: OfMap, WidthPx: 480}},
		"rides.svg":   {"skarnholt-hill-climb", Input{Focus: OfRides, WidthPx: 480, Units: wording.Units{Imperial: true}}},
	} {
		t.Run(name, func(t *testing.T) {
			in.Input.Course, in.Terrain = season(t, in.course)
			if in.Focus == OfRides {
				in.Rides = fourRides(t, in.Input.Course)
			}
			golden.Check(t, name, string(drawn(t, in.Input).SVG()))
		})
	}
}
