package engine

import (
	"parcours.example/analysis/course"
	"parcours.example/analysis/terrain"
)

// Course is an analysed course under the digest of its points and options. It is
// immutable and shared.
type Course struct {
	// ID is the digest in 32 hexadecimal digits.
	ID string
	// Options are the ones that had an effect: with the name that the course got,
	// without the choice of track, and with the default spacing where nothing is
	// resampled.
	Options CourseOptions
	// Assembly lists the parts of an assembled course, whose Options are its name, its
	// ascent threshold and its marks alone; nil for other courses.
	Assembly []AssembledPart
	*course.Course
	Terrain *terrain.Terrain
}

// CourseOptions are the course's options with the choice of track, which belongs
// to the file.
type CourseOptions struct {
	course.Options
	// Track is the file's track to use, counted from 1; 0 for the first with a
	// line.
	Track int
}

// effective returns the options that have an effect on a line of a given name, so
// that requests that come to the same are the same.
func (o CourseOptions) effective(name string) CourseOptions {
	o.Track = 0
	if o.Name == "" {
		o.Name = name
	}
	if o.Smoothing == course.None {
		o.SpacingM = course.Defaults().SpacingM
	}
	return o
}

// CourseSource says where a course comes from. Exactly one of ID, File and Profile
// is set.
type CourseSource struct {
	// Pointer is where the source stands in a JSON request, "#/course"; empty where a
	// file is the whole body or there is no request.
	Pointer string
	ID      string
	File    *File
	Profile *Profile
	// Options go with File and Profile. Start from course.Defaults.
	Options CourseOptions
}

// File is a route file as received, decoded.
type File struct {
	// MediaType is the format that the sender named, empty or general for none: the
	// bytes are then recognised.
	MediaType string
	// Content must not be changed any more.
	Content []byte
	// SentBytes is as how many bytes Content came, where it was packed on its way; 0 where
	// it wasn't.
	SentBytes int
}

// Profile is a table of distance and elevation in metres. ElevationM is nil or as
// long as DistanceM.
type Profile struct {
	DistanceM, ElevationM []float64
}
