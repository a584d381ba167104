// Package terrain dissects a course: its climbs and descents with their sections,
// its steepest stretches, its bends, the approaches of its lines, and where the
// climbing is.
package terrain

import (
	"parcours.example/analysis/course"
	"parcours.example/analysis/track"
)

// Terrain is the dissection of one course. Lists are in course order.
type Terrain struct {
	Climbs   []Climb
	Descents []Descent
	Marks    []Mark
	Bends    []Bend
	// Steepest holds, for each of the standard windows that fits into the course,
	// the steepest stretch uphill.
	Steepest []Window
	// MaxWindowM is the window over which maximum gradients are taken, in metres.
	MaxWindowM    float64
	Climbing      Climbing
	GradientBands []Band
}

// Stretch is a stretch of the course with its gradients, in per cent.
type Stretch struct {
	StartM, EndM                    float64
	MeanGradientPct, MaxGradientPct float64
}

// LengthM returns the horizontal length in metres.
func (s Stretch) LengthM() float64 { return s.EndM - s.StartM }

// Window is the steepest stretch of a fixed length.
type Window struct {
	WindowM, GradientPct, StartM float64
}

// Pass is one time that a climb or a descent is ridden.
type Pass struct {
	// Lap is 1-based, 0 outside laps; a pass belongs to the lap it starts on, also
	// where it starts up to 20 m before the lap's line.
	Lap                     int
	StartM, EndM, ToFinishM float64
	// Partial says that the course ends on it: its end is the finish, not the top of
	// the climb or the bottom of the descent.
	Partial bool
}

// Climb is a stretch that goes up, ridden once or more. Its own positions are
// those of its first pass.
type Climb struct {
	// ID is "climb-1", "climb-2", … in course order. Name is that of the summit's
	// mark nearest to the top on the first pass, within 200 m of it, else empty; a
	// steep part does not repeat its climb's.
	ID, Name string
	// ParentID is the climb of which this one is the steep part, else empty. Steep
	// parts follow their climb in the list.
	ParentID string
	// PartOfID is the longer climb of whose ground this one is all that is ridden
	// here, where the course starts on it, joins it midway or leaves it below the
	// top; else empty. It stands on its own because its measures are its own.
	PartOfID string
	Stretch
	GainM, BottomM, TopM float64
	Difficulty           Difficulty
	Sections             []Stretch
	Steepest             []Window
	Passes               []Pass
	// EndsAtFinish says that the last pass ends within 50 m of the course's end.
	EndsAtFinish bool
}

// Difficulty is a climb's severity in numbers.
type Difficulty struct {
	// H2Index is gain²/(10·length) + max(0, (top − 1000)/1000), lengths in metres.
	H2Index float64
	// WorkAgainstGravityJPerKg is g·gain.
	WorkAgainstGravityJPerKg float64
}

// Descent is a stretch that goes down; gradients are negative.
type Descent struct {
	// ID is "descent-1", "descent-2", … in course order.
	ID string
	Stretch
	DropM, TopM, BottomM float64
	Passes               []Pass
	// SharpestBends are at most five, sharpest first, on the first pass.
	SharpestBends []Bend
}

// Bend is a stretch of road that turns to one side by 25° or more, that is somewhere
// tighter than 100 m of radius and ends where the road is straighter than 300 m.
type Bend struct {
	// AtM is where it is sharpest.
	AtM float64
	// RadiusM is its smallest radius in metres as the line shows it. Points 10 m and
	// more apart and their noise blur it, so that it may read as if the bend took up to
	// 45 m more of road: a right angle of 10 m as up to 39 m, a hairpin of 10 m as up
	// to 24 m, half a circle of 50 m as up to 64 m. A corner of a drawn line whose
	// points lie more than 50 m apart is taken to turn within 50 m, so that a right
	// angle reads 32 m.
	RadiusM float64
	// TurnDeg is the total turn, positive to the right.
	TurnDeg float64
}

// Mark is a named place with what a rider meets there.
type Mark struct {
	// ID is "mark-1", "mark-2", … in order of first pass.
	ID, Name   string
	Kind       track.MarkKind
	OffCourseM float64
	Passes     []MarkPass
}

// MarkPass is one time that a mark is passed.
type MarkPass struct {
	Lap            int
	AtM, ToFinishM float64
	// GradientPct is the mean gradient of the last 100 m before the mark, of what
	// there is within 100 m of the start; NaN at the start and without elevation.
	GradientPct float64
	// AscentBeforeM and AscentAfterM are the course's ascent from the start to the
	// mark and from there to the finish, in metres; NaN without elevation.
	AscentBeforeM, AscentAfterM float64
	// Approach holds the last 1000, 500 and 200 m that fit before the mark.
	Approach []Approach
}

// Approach is the road in front of a mark. Its gradients are NaN without
// elevation, its bends none without positions.
type Approach struct {
	DistanceM                       float64
	MeanGradientPct, MaxGradientPct float64
	Bends                           int
	// SharpestRadiusM is 0 where there is no bend.
	SharpestRadiusM float64
}

// Climbing says where the climbing is.
type Climbing struct {
	ByPart []PartClimbing
	// ShareBeforeLastClimb is the ascent from the start to the foot of the last
	// climb's last pass over the whole ascent, 0…1; NaN without a climb.
	ShareBeforeLastClimb float64
	Rolling              Rolling
	// FalseFlats are in order of first pass.
	FalseFlats []FalseFlat
}

// FalseFlat is a stretch outside the climbs that rises at 1 % or more and less than
// 3 % on average over 500 m or more: too little to be called a climb and enough to
// cost a bunch its shelter and a rider more than it looks. Of all stretches it is
// one with the highest gain − 0.005·length among its neighbours, found as climbs are
// (maximal-scoring stretches); one that holds a longer and gentler rise than 1 % is
// searched again with 0.01. Ridden again, it appears once with its passes, and its
// own positions are those of the first.
type FalseFlat struct {
	Stretch
	GainM  float64
	Passes []Pass
}

// PartClimbing is the climbing of one part of the course.
type PartClimbing struct {
	Part    course.Part
	AscentM float64
	// Share is of the whole ascent, 0…1; 0 where there is none.
	Share float64
}

// Rolling measures rolling ground outside the climbs. Without elevation its numbers
// are NaN.
type Rolling struct {
	// RisesPerKm counts rises of 3 m or more outside climbs, per km outside climbs.
	RisesPerKm float64
	// MeanRiseM and LargestRiseM are their heights in metres, 0 without any.
	MeanRiseM, LargestRiseM float64
	// AscentMPerKm is the course's ascent outside climbs, in metres per km outside
	// climbs; 0 where climbs are all there is.
	AscentMPerKm float64
	// LongestSteady is the longest stretch whose gradient stays within one
	// percentage point of its mean.
	LongestSteady Stretch
}

// Band is the distance ridden at gradients in [FromPct, ToPct).
type Band struct {
	// FromPct is −Inf for the first, ToPct +Inf for the last band.
	FromPct, ToPct, LengthM float64
}
