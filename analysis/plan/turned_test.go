package plan

import (
	"math"

	"parcours.example/analysis/course"
	"parcours.example/analysis/geodesy"
)

// turned gives a course directions: heading(s) in degrees, and curvatures from them.
// Where on earth it lies doesn't matter.
func turned(c *course.Course, heading func(s float64) float64) *course.Course {
	n := len(c.S)
	c.Pos, c.Heading, c.Curvature = make([]geodesy.Vec, n), make([]float64, n-1), make([]float64, n)
	for i := range c.Heading {
		c.Heading[i] = math.Mod(heading((c.S[i]+c.S[i+1])/2)+3600, 360)
	}
	for i := 1; i < n-1; i++ {
		turn := math.Remainder(c.Heading[i]-c.Heading[i-1], 360) * math.Pi / 180
		c.Curvature[i] = turn / ((c.S[i+1] - c.S[i-1]) / 2)
	}
	return c
}
