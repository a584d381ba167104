// Package season holds the rounds of a season against each other: how their courses differ,
// how long riders take over all of them, and which round suits whom, and why.
package season

import (
	"math"

	"parcours.example/analysis"
	"parcours.example/analysis/course"
	"parcours.example/analysis/terrain"
)

// Figures are a round's course in short. What isn't known is NaN: without elevation everything
// but the length.
type Figures struct {
	LengthM, AscentM float64
	// H2Index is that of all climbs together, each pass counted, WorkAgainstGravityJPerKg
	// 9.80665 m/s² times the ascent.
	H2Index, WorkAgainstGravityJPerKg float64
	// ShareBeforeLastClimb is 0…1, NaN without a climb.
	ShareBeforeLastClimb float64
	// RollingMPerKm is the ascent outside climbs per km outside climbs.
	RollingMPerKm float64
	// Climbs counts different climbs, the steep parts of others left out.
	Climbs   int
	Decisive Place
}

// FiguresOf returns a course's figures.
func FiguresOf(c *course.Course, t *terrain.Terrain) Figures {
	unknown := math.NaN()
	f := Figures{
		LengthM: c.LengthM(), AscentM: unknown, H2Index: unknown, WorkAgainstGravityJPerKg: unknown,
		ShareBeforeLastClimb: unknown, RollingMPerKm: unknown, Decisive: decisive(c, t),
	}
	if !c.HasElevation() {
		return f
	}
	f.AscentM = c.AscentM(0, c.LengthM())
	f.WorkAgainstGravityJPerKg = analysis.Gravity * f.AscentM
	f.ShareBeforeLastClimb, f.RollingMPerKm = t.Climbing.ShareBeforeLastClimb, t.Climbing.Rolling.AscentMPerKm
	f.H2Index = 0
	for _, climb := range t.Climbs {
		if climb.ParentID == "" {
			f.Climbs++
			f.H2Index += float64(climb.Difficulty.H2Index * float64(len(climb.Passes)))
		}
	}
	return f
}

// AscentMPerKm is the ascent over the length.
func (f Figures) AscentMPerKm() float64 { return 1000 * f.AscentM / f.LengthM }
