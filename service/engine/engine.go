// Package engine holds the service's use cases: a course analysed, riders
// predicted, a brief written. It knows the cache and the limits, nothing of HTTP.
package engine

import (
	"parcours.example/analysis/course"
	"parcours.example/analysis/ride"
	"parcours.example/analysis/terrain"
)

// Course is an analysed course under the digest of its points and options. It is
// immutable and shared.
type Course struct {
	// ID is the digest in 32 hexadecimal digits.
	ID      string
	Options CourseOptions
	*course.Course
	Terrain *terrain.Terrain
}

// CourseOptions are the course's options with the choice of track, which belongs
// to the file.
type CourseOptions struct {
	course.Options
	// Track is the file's track to use, counted from 1; 0 for the first.
	Track int
}

// CourseSource says where a course comes from. Exactly one of ID, File and Profile
// is set.
type CourseSource struct {
	ID      string
	File    *File
	Profile *Profile
	Options CourseOptions
}

// File is a route file as received, decoded.
type File struct {
	// MediaType is the format that the sender named, empty for none: the bytes are
	// then recognised.
	MediaType string
	Content   []byte
}

// Profile is a table of distance and elevation in metres. ElevationM is nil or as
// long as DistanceM.
type Profile struct {
	DistanceM, ElevationM []float64
}

// Ride is what is asked of riders on a course.
type Ride struct {
	Course CourseSource
	// StartM and EndM bound the stretch that is ridden; NaN for the course's ends.
	StartM, EndM float64
	Riders       []ride.Rider
	Setups       []ride.Setup
	Conditions   ride.Conditions
	Effort       ride.Effort
}
