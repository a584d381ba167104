// Package track reads course files into points and marks and says what was wrong
// in them and where. It mends nothing of the line and measures nothing: that is the
// work of package course.
package track

import (
	"fmt"

	"parcours.example/analysis/geodesy"
)

// Point is one position of a recorded or drawn line.
type Point struct {
	// Pos is the point on the ellipsoid's surface, the zero vector in a track without
	// positions.
	Pos geodesy.Vec
	// Elevation is in metres above sea level, NaN where the file gives none.
	Elevation float64
}

// MarkKind says what a named place is for.
type MarkKind string

// The kinds of named places.
const (
	Sprint MarkKind = "sprint"
	Summit MarkKind = "summit"
	Gate   MarkKind = "gate"
	Feed   MarkKind = "feed"
	Other  MarkKind = "other"
)

// Mark is a named place, not yet matched to the line.
type Mark struct {
	Name string
	Kind MarkKind
	// Pos is where it stands; the zero vector for a place that is given by its
	// distance along the line.
	Pos geodesy.Vec
	// AtM is that distance in metres, used where Pos is the zero vector.
	AtM float64
	// Directed says that the place counts only where it is passed in about the true
	// direction HeadingDeg, in degrees.
	Directed   bool
	HeadingDeg float64
}

// Warning is something a reader of the result should know about the input.
type Warning struct {
	// Code is stable and short, in kebab case.
	Code string
	// Detail says it in a sentence for people.
	Detail string
	// Point is the 0-based index among the points as read that it concerns, −1
	// where it concerns the whole file.
	Point int
}

// Track is a file's line as read, in file order.
type Track struct {
	// Name is the track's own name, else the file's; empty where neither has one.
	Name string
	// Points are all points of the chosen track, the segments joined.
	Points []Point
	// DistanceM is the distance of each point in metres as the file gives it, where
	// the file gives no positions; else nil. It never decreases, every Pos is then the
	// zero vector, and the distances of marks are on the same axis.
	DistanceM []float64
	// Breaks are the indices in Points, above 0, at which a new segment starts.
	Breaks []int
	// Marks are the named places: the file's waypoints in file order, then the
	// named points of the line.
	Marks []Mark
	// Warnings tell what was odd in the file. Of one code at most five are given,
	// the last of which counts those left out.
	Warnings []Warning
}

// Limits bound what a file may hold. A file beyond one of them is refused with
// CodeTooMany.
type Limits struct {
	// Points bounds the points of all lines together, Marks the waypoints, Depth
	// how deep elements may stand inside each other. Names are not refused but cut
	// at NameRunes.
	Points, Marks, Depth, NameRunes int
	// Parts bounds tracks, routes and segments together, and the files of an archive;
	// Elements all elements.
	Parts, Elements int
	// Bytes bounds what a compressed file unpacks to.
	Bytes int
}

// Error says why a file can't be read, and where.
type Error struct {
	// Code is one of the Code constants.
	Code string
	// Detail is a sentence for people that says how to correct the file.
	Detail string
	// Line is the 1-based line of the file, 0 where unknown.
	Line int
	// Point is the 1-based number of the point in the file, 0 where unknown.
	Point int
	// Limit and Actual are set for CodeTooMany.
	Limit, Actual int
}

// The reasons for which a file can't be read.
const (
	// CodeNotTheFormat: the bytes are not of the named format at all.
	CodeNotTheFormat = "not-the-format"
	// CodeMalformed: the format is right but broken off, or broken, at a place.
	CodeMalformed = "malformed-file"
	// CodeOutOfRange: a position or an elevation is missing, not a number or out
	// of range.
	CodeOutOfRange = "value-out-of-range"
	// CodeNoLine: the file is readable but holds no line of two or more points.
	CodeNoLine = "no-line"
	// CodeNoSuchTrack: the asked track is not in the file.
	CodeNoSuchTrack = "no-such-track"
	// CodeTooMany: a count is above its limit.
	CodeTooMany = "too-many"
)

// Error implements error.
func (e *Error) Error() string {
	switch {
	case e.Point > 0 && e.Line > 0:
		return fmt.Sprintf("line %d, point %d: %s", e.Line, e.Point, e.Detail)
	case e.Line > 0:
		return fmt.Sprintf("line %d: %s", e.Line, e.Detail)
	case e.Point > 0:
		return fmt.Sprintf("point %d: %s", e.Point, e.Detail)
	}
	return e.Detail
}
