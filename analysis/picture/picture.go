// Package picture draws courses: the whole profile, one climb, the laps laid over each
// other, the map, and rides over a course. A picture is drawn once and written as SVG or
// PNG.
//
// Colours say the gradient (package colour); distances and heights are written as
// everywhere else (package wording). Texts never lie over each other: those that find no
// room are left out, the least important first, and the description counts them.
package picture

import (
	"fmt"
	"strings"

	"parcours.example/analysis/colour"
	"parcours.example/analysis/course"
	"parcours.example/analysis/terrain"
	"parcours.example/analysis/wording"
)

// What a picture shows, beside the id of a climb.
const (
	// OfCourse is the profile of the whole course.
	OfCourse = "course"
	// OfLaps is the profile of a lap with the other laps laid over it.
	OfLaps = "laps"
	// OfMap is the course from above.
	OfMap = "map"
	// OfRides is the profile with the speed, the power and the balance of W′ of rides
	// below it, on the same axis.
	OfRides = "rides"
)

// Sizes in px. Below the least the texts have no room.
const (
	LeastWidthPx  = 480
	MostWidthPx   = 1600
	LeastHeightPx = 240
	MostHeightPx  = 1200
)

// Input is what a picture is drawn of.
type Input struct {
	Course  *course.Course
	Terrain *terrain.Terrain
	// Focus is one of the Of constants or the id of a climb.
	Focus string
	// WidthPx and HeightPx are the size, within the sizes above; a height of 0 is chosen
	// by the width.
	WidthPx, HeightPx int
	Theme             colour.Theme
	Units             wording.Units
	// Rides are those that OfRides draws; the rest draws none.
	Rides Rides
}

// The codes of Error.
const (
	// CodeNoSuchClimb: the course has no climb of the asked id.
	CodeNoSuchClimb = "no-such-climb"
	// CodeNoLaps: laps are to be laid over each other, and there are fewer than two.
	CodeNoLaps = "no-laps"
	// CodeNoPositions: a map is asked for, and the course has no positions.
	CodeNoPositions = "no-positions"
	// CodeNoElevation: laps are asked for, and the course has no elevations.
	CodeNoElevation = "no-elevation"
	// CodeSize: the width or the height is out of range.
	CodeSize = "size-out-of-range"
	// CodeTooLow: the height has no room for all that a picture of rides shows.
	CodeTooLow = "too-low"
	// CodeTooManyRides: there are more than MostRides rides, or none.
	CodeTooManyRides = "too-many-rides"
)

// Error says why a picture can't be drawn.
type Error struct{ Code, Detail string }

// Error implements error.
func (e *Error) Error() string { return e.Detail }

// Draw draws a picture. The same input gives the same drawing. It fails with an *Error.
func Draw(in Input) (*Drawing, error) {
	if in.HeightPx == 0 && in.Focus != OfRides { // which depends on what there is to show
		in.HeightPx = height(in)
	}
	if low := in.HeightPx < LeastHeightPx && in.HeightPx != 0; in.WidthPx < LeastWidthPx || in.WidthPx > MostWidthPx || low || in.HeightPx > MostHeightPx {
		return nil, &Error{CodeSize, fmt.Sprintf("A picture is %d to %d px wide and %d to %d px high, not %d × %d.",
			LeastWidthPx, MostWidthPx, LeastHeightPx, MostHeightPx, in.WidthPx, in.HeightPx)}
	}
	s, err := newSheet(in)
	if err != nil {
		return nil, err
	}
	switch in.Focus {
	case OfCourse:
		return s.course()
	case OfLaps:
		return s.laps()
	case OfMap:
		return s.overview()
	case OfRides:
		return s.rides()
	}
	return s.climb()
}

// height is the height in px that suits a width.
func height(in Input) int {
	if in.Focus == OfMap {
		return min(max(in.WidthPx*3/4, 400), MostHeightPx)
	}
	return min(max(in.WidthPx*9/20, 320), 680)
}

// findClimb returns the climb that the picture is of.
func (in Input) findClimb() (terrain.Climb, error) {
	for _, c := range in.Terrain.Climbs {
		if c.ID == in.Focus {
			return c, nil
		}
	}
	n := len(in.Terrain.Climbs)
	if n == 0 {
		return terrain.Climb{}, &Error{CodeNoSuchClimb, "The course has no climb."}
	}
	return terrain.Climb{}, &Error{CodeNoSuchClimb, fmt.Sprintf("The course has no %q; its climbs are climb-1 to climb-%d.", in.Focus, n)}
}

// climbName is a climb's own name, or its number as the analysis gives it.
func climbName(c terrain.Climb) string {
	if n := plain(c.Name); n != "" {
		return n
	}
	return "Climb " + strings.TrimPrefix(c.ID, "climb-")
}

// markName is a mark's own name, or its number.
func markName(m terrain.Mark) string {
	if n := plain(m.Name); n != "" {
		return n
	}
	return "Mark " + strings.TrimPrefix(m.ID, "mark-")
}
