package engine

import (
	"math"

	"parcours.example/analysis/ride"
)

// A ride over a stretch has its own distance axis, which starts at 0. These bring
// positions on the course, in metres, onto it and back.

// shiftSurfaces returns the surfaces from a position on.
func shiftSurfaces(surfaces []ride.Surface, from float64) []ride.Surface {
	if from == 0 {
		return surfaces
	}
	var shifted []ride.Surface
	for _, s := range surfaces {
		if s.EndM-from > roundingM {
			s.StartM, s.EndM = max(0, s.StartM-from), s.EndM-from
			shifted = append(shifted, s)
		}
	}
	return shifted
}

// shiftSteps returns an effort whose steps begin at a position. The last step has
// no end.
func shiftSteps(e ride.Effort, from float64) ride.Effort {
	if from == 0 || len(e.Steps) == 0 {
		return e
	}
	var shifted []ride.Step
	for i, s := range e.Steps {
		s.EndM -= from
		if i == len(e.Steps)-1 {
			s.EndM = math.Inf(1)
		}
		if s.EndM > roundingM {
			shifted = append(shifted, s)
		}
	}
	e.Steps = shifted
	return e
}

// shiftError returns an error of a ride with its place on the course.
func shiftError(err *ride.Error, from float64) *ride.Error {
	moved := *err
	moved.AtM += from
	return &moved
}
