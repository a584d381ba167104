// Package ridden lays a recorded ride on a course: where on the course's distance axis
// the rider was at each moment, how fast, and with what power.
package ridden

import "parcours.example/analysis/recording"

// Point is one moment of a ride on a course.
type Point struct {
	// TimeS is the time in seconds since the ride's first point.
	TimeS float64
	// AtM is the place in metres on the course's distance axis, which is horizontal.
	AtM float64
	// SpeedMPS is the speed along the road in m/s, NaN where it is not known. It is the
	// derivative of AtM, lengthened by the slope.
	SpeedMPS float64
	// PowerW is the rider's mean power in W since the point before, NaN where it is not
	// known.
	PowerW float64
	// Broken says that nothing is known of the ride between the point before and this one.
	Broken bool
	// Stopped says that the rider stood still from the point before to this one.
	Stopped bool
}

// Deviation is how far a ride's positions lie from the course, in metres.
type Deviation struct {
	// MedianM and P95M are the middle distance and the one that 95 % stay below.
	MedianM, P95M float64
	// LargestM is the largest, at the place LargestAtM on the course.
	LargestM, LargestAtM float64
}

// Pass is a stretch of the course between two lines across it, as ridden.
type Pass struct {
	// Lap is the 1-based lap, 0 for a part of the course outside laps.
	Lap          int
	StartM, EndM float64
	// StartS and EndS are when its ends were crossed, as Point.TimeS; NaN for one that
	// was not.
	StartS, EndS float64
}

// TimeS is the time in seconds that the pass took, stops included; NaN where it was
// not ridden from end to end.
func (p Pass) TimeS() float64 { return p.EndS - p.StartS }

// Ride is a recorded ride laid on a course.
type Ride struct {
	// Points are in order: TimeS is strictly increasing, AtM does not decrease.
	Points []Point
	// SpeedNoiseMPS is the standard deviation in m/s of the error of Point.SpeedMPS, as
	// estimated from the recording.
	SpeedNoiseMPS float64
	// Scale is the distance along the course over that by the device's distances or
	// speeds; 1 where these were not used.
	Scale float64
	// FromS is when the first point was, as the recording's Sample.TimeS.
	FromS float64
	// StartM and EndM are the first and the last place on the course in metres.
	StartM, EndM float64
	// ByDistance says that the ride was laid by its distances, for want of positions.
	ByDistance bool
	// Deviation is that of the positions; NaN where it was laid by distance.
	Deviation Deviation
	// StartS and EndS are when the course's start and finish were crossed, as
	// Point.TimeS; NaN for one that was not.
	StartS, EndS float64
	// Passes are the course's parts in order, laps each by itself.
	Passes []Pass
	// Notes are those of the recording and of laying it; AtS is the recording's time.
	Notes []recording.Note
}

// TimeS is the time in seconds from start to finish, stops included; NaN where one of them
// was not crossed.
func (r *Ride) TimeS() float64 { return r.EndS - r.StartS }
