package itinerary

import (
	"math"

	"parcours.example/analysis/wording"
)

const (
	// stepOfSpeeds is how far chosen speeds lie apart, in km/h or mph (common practice of
	// road books).
	stepOfSpeeds = 2
	// leastMiddle is the slowest middle one of three chosen speeds, in km/h or mph.
	leastMiddle = 4
	// unknownMps is the mean speed that stands in for an ordinary rider's who comes to a
	// halt: 20 km/h, a choice.
	unknownMps = 20 / 3.6
)

// Neutral is a stretch that is ridden together before the race is on. Its time is the
// same for all.
type Neutral struct {
	// EndM is where on the course it ends; 0 where it lies before the course.
	EndM float64
	// TimeS is how long it takes from the start of the clocks; 0 for none.
	TimeS float64
}

// AtSpeed returns when the rows are passed at an average speed in m/s, > 0, from the end of
// the neutral stretch on.
func (n Neutral) AtSpeed(rows []Row, speedMps float64) []float64 {
	return n.clocks(rows, func(i int) float64 { return (rows[i].AtM - n.EndM) / speedMps })
}

// Ridden returns when the rows are passed by a rider who passes them at the clocks of a
// ride over the whole course. The neutral stretch takes its own time; from its end on the
// rider goes on as in the ride.
func (n Neutral) Ridden(rows []Row, clocksS []float64) []float64 {
	begun := 0.0
	for i, r := range rows {
		if r.Holds(RacingBegins) {
			begun = clocksS[i]
		}
	}
	return n.clocks(rows, func(i int) float64 { return clocksS[i] - begun })
}

// clocks returns the rows' clocks, where raced says how long it takes from the end of the
// neutral stretch to a row beyond it.
func (n Neutral) clocks(rows []Row, raced func(row int) float64) []float64 {
	clocks := make([]float64, len(rows))
	for i, r := range rows {
		if r.AtM < n.EndM {
			clocks[i] = n.TimeS * (r.AtM / n.EndM)
		} else {
			clocks[i] = n.TimeS + raced(i)
		}
	}
	return clocks
}

// Speeds chooses three speeds in m/s: the mean that is expected, rounded to a whole km/h or
// mph, and one 2 below and above it. Where the mean is NaN, 20 km/h stands for it.
func Speeds(meanMps float64, units wording.Units) []float64 {
	if math.IsNaN(meanMps) {
		meanMps = unknownMps
	}
	perHour := units.LongM() / 3600
	middle := max(math.Round(math.Round(meanMps/perHour*1e6)/1e6), leastMiddle)
	return []float64{(middle - stepOfSpeeds) * perHour, middle * perHour, (middle + stepOfSpeeds) * perHour}
}
