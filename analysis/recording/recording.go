// Package recording holds what a device on a bicycle wrote of a ride, as read and
// mended: samples in order of time, each with what was measured there, and notes of
// what was wrong and what was done about it.
package recording

import "parcours.example/analysis/geodesy"

// Sample is one moment of a ride. What was not measured is NaN, never 0.
type Sample struct {
	// TimeS is the time in seconds since the first sample.
	TimeS float64
	// Pos is the position on the ellipsoid's surface; it counts where HasPosition is true.
	Pos         geodesy.Vec
	HasPosition bool
	// DistanceM is the distance covered in metres by the device's own count, which does
	// not decrease.
	DistanceM float64
	// SpeedMPS is the speed in m/s that the device shows, from a wheel or from positions.
	SpeedMPS float64
	// ElevationM is in metres above sea level.
	ElevationM float64
	// PowerW is the rider's power in W, the mean since the sample before as meters show it.
	PowerW float64
	// CadenceRPM is in revolutions of the crank a minute.
	CadenceRPM float64
	// Broken says that the ride between the sample before and this one was not recorded:
	// the device was paused, switched off or without data.
	Broken bool
}

// Note is something that a reader of the result should know about the recording.
type Note struct {
	// Code is stable and short, in kebab case.
	Code string
	// Detail says it in a sentence for people.
	Detail string
	// AtS is where it is first, as Sample.TimeS; NaN for the whole recording.
	AtS float64
	// Count is how many samples or places it concerns, at least 1.
	Count int
}

// Recording is a ride as it was recorded.
type Recording struct {
	// StartUnixS is the time of the first sample in seconds since 1970-01-01 UTC; NaN
	// where the file gives no times of day.
	StartUnixS float64
	// Samples are in order: TimeS is strictly increasing, from 0.
	Samples []Sample
	// Notes are in order of place, those of the whole recording first.
	Notes []Note
}
