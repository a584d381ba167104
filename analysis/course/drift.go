package course

import (
	"fmt"
	"math"
	"slices"
)

const (
	// Two passes of the same ground, in either direction, lie within againM of each
	// other and againApartM apart along the course.
	againM      = 20.0
	againApartM = 1000.0
	// parallel is the least cosine of the angle between them.
	parallel = 0.9
	// driftPlaces is about how many places are looked at, leastDriftPlaces the fewest
	// that tell anything.
	driftPlaces      = 1000
	leastDriftPlaces = 20
	// driftM and driftNoises, in standard deviations of the noise, are the median
	// difference of elevation between passes from which to warn.
	driftM      = 2.0
	driftNoises = 3.0
	// steadyDrift is the share of that difference that must go one way to be called a
	// drift of so much per distance.
	steadyDrift = 0.7
)

// warnDrift warns where ground that is ridden again has another elevation, as
// barometers make it.
func (c *Course) warnDrift() {
	if c.again == nil || c.Z == nil {
		return
	}
	rises, apart := c.passRises()
	if len(rises) < leastDriftPlaces {
		return
	}
	sizes := make([]float64, len(rises))
	for i, r := range rises {
		sizes[i] = math.Abs(r)
	}
	size, km := median(sizes), median(apart)/1000
	if size < max(driftM, driftNoises*c.Quality.ElevationNoiseM) {
		return
	}
	steady := ""
	if rise := median(rises); math.Abs(rise) > steadyDrift*size {
		steady = ", which is a drift of " + fmt.Sprintf("%+.2f m per km", rise/km)
	}
	c.Quality.warn("elevation-drift", math.NaN(), "ground that is ridden again %.1f km later differs by %.1f m in elevation%s", km, size, steady)
}

// passRises returns for places that are ridden more than once by how much each next pass
// lies higher, and how far apart the two are, both in metres.
func (c *Course) passRises() (rises, apart []float64) {
	g := c.again.g
	least := g.steps(againApartM)
	for i := 0; i <= g.last(); i += 1 + len(g.pos)/driftPlaces {
		next, nearest := -1, math.Inf(1)
		for _, j := range c.again.grid.around(g, g.pos[i], againM) {
			if float64(j-i) < least || math.Abs(g.dir[i].Dot(g.dir[j])) < parallel {
				continue
			}
			if next >= 0 && float64(j-next) > least {
				break // a later pass
			}
			if d := g.pos[j].Sub(g.pos[i]); d.Dot(d) < nearest {
				next, nearest = j, d.Dot(d)
			}
		}
		if next >= 0 {
			rises = append(rises, c.ElevationAt(float64(next)*g.step)-c.ElevationAt(float64(i)*g.step))
			apart = append(apart, float64(next-i)*g.step)
		}
	}
	return rises, apart
}

// median returns the middle value and leaves x in order.
func median(x []float64) float64 {
	slices.Sort(x)
	return x[len(x)/2]
}
