// Package course turns points as read into the conditioned course that all other
// rooms work on: one distance axis, one elevation, one cumulative ascent, one
// structure of parts and passes.
//
// Conventions. Distance along the course is horizontal, in metres from the start.
// Gradient is rise over run. Between nodes the elevation is linear. Everything is
// deterministic and independent of the number of processors.
package course

import (
	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

// Smoothing is how strongly the elevation is conditioned.
type Smoothing string

// The strengths of smoothing.
const (
	// Auto chooses the strength from the noise that the data itself shows.
	Auto Smoothing = "auto"
	// None takes the profile as the polyline through the given points.
	None Smoothing = "none"
	// Light takes out noise of at most 0.3 m, whatever the data shows: short pitches stay
	// where they would go under with the noise.
	Light Smoothing = "light"
	// Strong takes out noise of at least 1.5 m, whatever the data shows.
	Strong Smoothing = "strong"
)

// Options say how a course is made. Start from Defaults.
type Options struct {
	// Name replaces the file's name where not empty.
	Name string
	// SpacingM is the distance between nodes in metres, 2…100. Ignored with None.
	SpacingM float64
	// Smoothing is the strength of conditioning.
	Smoothing Smoothing
	// Laps is the number of laps in all, 1…200; 0 detects laps instead. The line may
	// be one lap whose ends lie at most 100 m apart, or hold one between a way in and
	// a way out, where it comes by a place again in the same direction; these are
	// kept. Where it holds several laps already, laps are left out or copies of the
	// last one added before the way out. Without positions the whole line is a lap.
	Laps int
	// LapLine is the name of a mark, of the file or among Marks, that is to be the lap
	// line where laps are detected; empty for the line that is found. Laps are then
	// counted from one of its passes to the next: what comes before the first belongs to
	// the lead-in and what follows the last to the run-out. Where it is not passed once a
	// lap, the line stays, with a warning.
	LapLine string
	// Reverse turns the direction of travel.
	Reverse bool
	// AscentThresholdM is the threshold of the ascent's turning-point filter in
	// metres, 0…50.
	AscentThresholdM float64
	// StartM and EndM cut the line, in its direction of travel, once it is conditioned
	// and before laps are declared or detected: positions in metres on the course that
	// would be answered without them and without Laps. EndM is its end at 0. Warnings
	// and marks of what is cut off go with it.
	StartM, EndM float64
	// Marks are named places beside the file's. One given by its distance stands
	// there on the course as made.
	Marks []track.Mark
}

// Defaults returns the options that hold where nothing else is said: 10 m
// spacing, automatic smoothing, laps detected, 1 m ascent threshold.
func Defaults() Options {
	return Options{SpacingM: 10, Smoothing: Auto, AscentThresholdM: 1}
}

// Course is a conditioned course. It is immutable once made.
type Course struct {
	Name string
	// S is the distance axis in metres: S[0] = 0, strictly increasing. It is
	// uniform (Quality.SpacingM, exact end) unless smoothing is None, the line is cut,
	// laps are declared or courses are assembled: then there are shorter steps at the
	// cuts and joints.
	S []float64
	// Z is the elevation in metres at each S; nil when the input has none.
	Z []float64
	// Pos is the smoothed position at each S, on the ellipsoid's surface; nil when
	// the input has no positions.
	Pos []geodesy.Vec
	// Heading is the true direction of travel in degrees [0, 360) on each piece
	// (len(S) − 1 values); nil without positions.
	Heading []float64
	// Curvature is the signed curvature of the line at each S in 1/m (positive to
	// the right), robust against position noise; nil without positions.
	Curvature []float64
	// turning is the heading of each piece in degrees, free of noise and without
	// jumps of 360°, of which Curvature is the derivative.
	turning []float64
	// AscentTo and DescentTo are the cumulative ascent and descent in metres at
	// each S after the turning-point filter; nil when Z is nil.
	AscentTo, DescentTo []float64

	Shape Shape
	Laps  Laps
	// OtherCircuits are the circuits ridden for laps before or after those of Laps,
	// in course order. Their laps lie in the lead-in or the run-out.
	OtherCircuits []OtherCircuit
	Parts         []Part
	Repeats       []Repeat
	Marks         []Mark
	Quality       Quality

	// again is where ground is ridden again; nil if unknown.
	again *again
}

// Shape is the plan of a course. Shapes are tried in the order of the constants.
type Shape string

// The shapes.
const (
	Lapped       Shape = "lapped"
	OutAndBack   Shape = "out_and_back"
	Lollipop     Shape = "lollipop"
	Circuit      Shape = "circuit"
	PointToPoint Shape = "point_to_point"
)

// LapSource says where the laps come from.
type LapSource string

// The sources of laps.
const (
	LapsDetected LapSource = "detected"
	LapsDeclared LapSource = "declared"
	LapsNone     LapSource = "none"
)

// Laps describes the repeated circuit. Without laps Count is 0 and Source is
// LapsNone.
type Laps struct {
	Count  int
	Source LapSource
	// LengthM is the mean length of the laps, AscentM their mean ascent, StartM
	// where the first lap starts.
	LengthM, AscentM, StartM float64
	// Agreement is the share of the laps' samples, 0…1, that lie on the first
	// lap's line within the tolerance and run in its direction. Without positions it
	// is the correlation of the laps' gradients with those of the next.
	Agreement float64
}

// OtherCircuit is a circuit that is ridden for laps besides the one that Laps
// describes, which covers more of the course.
type OtherCircuit struct {
	// Count is the number of laps, 2 or more.
	Count int
	// StartM and EndM are where its first lap starts and its last one ends, in metres
	// along the course.
	StartM, EndM float64
	// LengthM and AscentM are the mean length and ascent of its laps in metres.
	LengthM, AscentM float64
	// Agreement is that of its laps, as in Laps.
	Agreement float64
}

// PartKind says what a part of the course is.
type PartKind string

// The kinds of parts. A course without laps is one part of kind Whole.
const (
	LeadIn PartKind = "lead_in"
	Lap    PartKind = "lap"
	RunOut PartKind = "run_out"
	Whole  PartKind = "whole"
)

// Part is a stretch of the course. The parts follow each other without gap and
// cover the course.
type Part struct {
	Kind PartKind
	// Lap is the 1-based number of a lap, 0 for other kinds.
	Lap          int
	StartM, EndM float64
	// AscentM and DescentM sum over the parts to the course's; 0 without
	// elevation.
	AscentM, DescentM float64
}

// Repeat is ground that is ridden again in the same direction: [AgainStartM,
// AgainEndM] follows the line of [StartM, EndM].
type Repeat struct {
	StartM, EndM, AgainStartM, AgainEndM float64
}

// Mark is a named place matched to the course.
type Mark struct {
	Name string
	Kind track.MarkKind
	// OffCourseM is the distance of the place from the line in metres.
	OffCourseM float64
	// At are the positions of its passes in metres along the course, in order. Without
	// a direction of its own, every branch of a crossing that it stands on is a pass.
	At []float64

	// place is the mark as given, with a distance on this course's axis.
	place track.Mark
}

// Quality says how far the course can be trusted and what was done to it. It is that
// of the file as read: where laps are declared, of the line without them; of a cut
// line only DistanceAsReadM and AscentUnsmoothedM are those of what is left. Of an
// assembly the counts and sums are added up over the parts, each as often and as far
// as it is ridden, and the worst noise and the widest spacing stand.
type Quality struct {
	PointsRead    int
	PointsDropped int
	// SpacingM is the spacing of S; with None the median distance between nodes.
	SpacingM float64
	// MedianStepM is the median distance between points as read.
	MedianStepM float64
	// DistanceAsReadM is the sum of geodesics over the points as read.
	DistanceAsReadM float64
	// ElevationNoiseM and PositionNoiseM are the estimated standard deviations of
	// the white noise in the input.
	ElevationNoiseM, PositionNoiseM float64
	// AscentUnsmoothedM is the plain sum of rises over the points as read.
	AscentUnsmoothedM float64
	// AscentThresholdM is the threshold of the turning-point filter.
	AscentThresholdM float64
	Warnings         []Warning
}

// Warning is something to know before trusting the course, with a place where it
// has one.
type Warning struct {
	Code, Detail string
	// AtM is the place along the course in metres, NaN for the whole course.
	AtM float64
}
