package course

import (
	"cmp"
	"slices"
)

const (
	// lineSlackM is how much two laps may fall short of meeting themselves, because
	// a run's ends are only known to the tolerance and coarse sampling cuts corners.
	lineSlackM = 120.0
	// sameCover is the share of a course's stretch that two circuits both cover from
	// which one rides the laps of the other, two or three at a time.
	sameCover = 0.8
)

// circuit is ground that is ridden round and round: a run that reaches the place
// where its own other pass began.
type circuit struct {
	*run
	// period is the length of the first lap in steps.
	period float64
	// slack is lineSlackM, less on the shortest laps, in steps.
	slack float64
	// lines are the places of the lap line, the first lap's start first; nil as long as
	// they are not known.
	lines []float64
}

// asCircuit returns the circuit that a run is, if it is one. A road shared by two
// loops, a loop ridden one and a half times and a crossing end before they reach
// their own other pass.
func asCircuit(g *ground, r *run) (circuit, bool) {
	period := r.to[0] - float64(r.from)
	slack := min(g.steps(lineSlackM), period/5)
	// On a line that crawls about in one place a run's other pass can fall behind it.
	isLap := period >= g.steps(minAgainM)/2
	return circuit{run: r, period: period, slack: slack}, isLap && float64(r.last()) >= r.to[0]-slack
}

// findCircuits returns the circuits that are ridden one after the other, in course
// order. The one that covers most of the course is taken first, then the next of those
// that come before or after it. Every second lap is a circuit too: of those that cover
// almost the same, the one with the shortest lap is taken.
func findCircuits(g *ground, runs []*run) []circuit {
	var all, taken []circuit
	for _, r := range runs {
		if c, ok := asCircuit(g, r); ok {
			all = append(all, c)
		}
	}
	slices.SortStableFunc(all, func(a, b circuit) int { return cmp.Compare(b.cover(), a.cover()) })
	for len(all) > 0 {
		widest := all[0]
		best := widest
		for _, c := range all[1:] {
			if c.overlap(widest) >= sameCover*widest.cover() && c.period < best.period {
				best = c
			}
		}
		taken = append(taken, best)
		all = slices.DeleteFunc(all, func(c circuit) bool { return c.competes(best) || c.competes(widest) })
	}
	slices.SortFunc(taken, func(a, b circuit) int { return cmp.Compare(a.from, b.from) })
	return taken
}

// end returns the place where the course leaves the circuit.
func (c circuit) end() float64 { return c.to[len(c.to)-1] }

// cover returns the length of the course on the circuit, in steps.
func (c circuit) cover() float64 { return c.end() - float64(c.from) }

// overlap returns the length of the course, in steps, that is on both circuits.
func (c circuit) overlap(o circuit) float64 {
	return max(0, min(c.end(), o.end())-float64(max(c.from, o.from)))
}

// competes reports whether two circuits can't both be ridden, one after the other.
// Where they share a road each goes on for its length beyond where the other is
// entered, so that they overlap by twice that, which is less than a lap.
func (c circuit) competes(o circuit) bool {
	both := c.overlap(o)
	return both >= 2*min(c.period, o.period) || both >= sameCover*min(c.cover(), o.cover())
}
