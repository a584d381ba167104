package course

import (
	"math"

	"parcours.example/analysis/geodesy"
)

// approachLevels are distances in metres of a lead-in from the circuit that it
// comes to; the least is clear of the noise.
var approachLevels = [...]float64{25, 60, 100, 140}

// joint returns the place where the lead-in meets the circuit: where the straight
// line through two places of the approach meets it. Near the junction coarse
// sampling cuts the corner and makes the approach look flatter than it is, so the
// nearest pair of places counts unless a farther one is clearly steeper.
func (c circuit) joint(g *ground) geodesy.Vec {
	joint, slope := g.pos[c.from], 0.0
	places := c.approach(g)
	for k := 1; k < len(places); k++ {
		fall := approachLevels[k] - approachLevels[k-1]
		steep := fall / (places[k-1] - places[k])
		if steep <= 1.05*slope {
			continue
		}
		slope = steep
		a, b := g.point(places[k]), g.point(places[k-1])
		joint = b.Add(b.Sub(a).Scale(approachLevels[k-1] / fall))
	}
	return joint
}

// approach returns the places at which the lead-in was last at each of the levels,
// as far as it was.
func (c circuit) approach(g *ground) []float64 {
	var places []float64
	start := min(c.from+int(g.steps(lineSlackM)), c.last())
	before := c.fromLaterPasses(g, start)
	for i := start - 1; i >= max(c.from-int(g.steps(4*lineSlackM)), 0); i-- {
		d := c.fromLaterPasses(g, i)
		for len(places) < len(approachLevels) && before <= approachLevels[len(places)] && d > approachLevels[len(places)] {
			places = append(places, float64(i)+(d-approachLevels[len(places)])/(d-before))
		}
		before = d
	}
	return places
}

// fromLaterPasses returns the mean distance in metres of a sample near the run's
// start from the next few passes of the circuit.
func (c circuit) fromLaterPasses(g *ground, i int) float64 {
	const passes = 4
	sum, n := 0.0, 0.0
	within := min(g.steps(2*lineSlackM)+math.Abs(float64(i-c.from)), c.period/2)
	for x := c.image(float64(c.from)); n < passes; n++ {
		_, d := g.nearest(g.pos[i], x, within)
		sum += d
		if x > float64(c.last()) {
			return sum / (n + 1)
		}
		x = c.image(x)
	}
	return sum / n
}
