package course

import (
	"fmt"
	"math"
	"slices"
)

// profileLine checks a table of distances and elevations and starts its axis at 0.
// No elevations at all stand for a table of distances alone.
func profileLine(distanceM, elevationM []float64) (*line, error) {
	if elevationM == nil {
		elevationM = slices.Repeat([]float64{math.NaN()}, len(distanceM))
	}
	if len(distanceM) < 2 || len(elevationM) != len(distanceM) {
		return nil, &Error{Code: CodeTooShort, Detail: "the profile needs two samples or more, each with a distance, and an elevation for each or for none"}
	}
	l := &line{s: make([]float64, len(distanceM)), z: slices.Clone(elevationM)}
	for i, d := range distanceM {
		if math.IsNaN(d) || math.IsInf(d, 0) || i > 0 && !(d-distanceM[0] > l.s[i-1]) {
			return nil, notIncreasing(i)
		}
		l.s[i] = d - distanceM[0]
	}
	return l, nil
}

// notIncreasing refuses a table for its sample of an index.
func notIncreasing(i int) *Error {
	return &Error{
		Code:   CodeAxisNotIncreasing,
		Detail: fmt.Sprintf("the distance of sample %d does not lie beyond that of the sample before it", i+1),
	}
}
