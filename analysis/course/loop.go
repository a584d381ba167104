package course

import (
	"math"

	"parcours.example/analysis/geodesy"
)

const (
	// minLoopM is the least length in metres of a loop.
	minLoopM = 200.0
	// loopSlackM is by how much in metres loops over the same shared road seem to
	// differ in length.
	loopSlackM = 150.0
	// endLoopShare is the share of the longest loop that one must have that the end
	// of the line closes, to be the lap.
	endLoopShare = 0.8
	// mergedM is by how much in metres two roads may lie farther apart than they do
	// further on, to be one road already.
	mergedM = 5.0
	// backward is the cosine of the turn, 110°, from which the way on is a way back.
	backward = -0.35
	// loopReach is how many samples around a place the other pass is sought in.
	loopReach = 15
)

// loop returns the two places in metres, 200 m apart or more, at which the line comes
// by the same place in the same direction and between which it is longest: the lap of
// a line with a way in or a way out. If the end of the line lies on such a loop, the
// end is its line; else the line is where the way in joins it. Where no place is come by
// in the same direction, an end that comes to a place round a corner closes the lap.
func (a *again) loop() (from, to float64, found bool) {
	g := a.g
	far, longest := a.farMeetings()
	if longest == 0 {
		return a.corner()
	}
	reach := int(g.steps(toleranceM))
	for i, j := range far {
		if j >= g.last()-reach && float64(j-i) >= endLoopShare*float64(longest) {
			from, _ := g.nearest(g.pos[g.last()], float64(i), loopReach)
			return from * g.step, g.lengthM, true
		}
	}
	first := 0
	for far[first]-first < longest-int(g.steps(loopSlackM)) {
		first++
	}
	from, to = a.joinedAt(far, first)
	if g.step*from <= snapM {
		from = 0
		to, _ = g.nearest(g.pos[0], to, loopReach)
	}
	to = min(to*g.step, g.lengthM)
	if g.lengthM-to <= snapM {
		to = g.lengthM
	}
	from *= g.step
	return from, to, to-from >= minLoopM/2 // less where a short line meets itself all over
}

// joinedAt returns the two places at which the way in joins the loop, given the first
// sample that meets the line again: as for detected laps, where there is a road that is
// ridden twice.
func (a *again) joinedAt(far []int, first int) (from, to float64) {
	for _, r := range a.runs {
		if r.from > first+2*loopReach || r.last() < first || math.Abs(r.to[0]-float64(r.from)-float64(far[first]-first)) > a.g.steps(loopSlackM) {
			continue
		}
		c, _ := asCircuit(a.g, r)
		line := c.joint(a.g)
		from, onIt := c.measure(a.g, line, float64(c.from))
		to, again := c.measure(a.g, line, c.image(from))
		if onIt && again {
			return from, to
		}
	}
	i, to := a.merged(far, first)
	return float64(i), to
}

// corner returns the longest loop whose line is a corner: the line's end comes by a
// place, or its start is come by, in another direction, but the way on from there is no
// way back.
func (a *again) corner() (from, to float64, found bool) {
	g, least := a.g, int(math.Ceil(a.g.steps(minLoopM)))
	first, last := 0, g.last()
	if i := a.nearestOf(g.pos[last], 0, last-least); i >= 0 && g.ahead(i).Dot(g.behind(last)) > backward {
		from, to, found = float64(i)*g.step, g.lengthM, true
	}
	if j := a.nearestOf(g.pos[first], least, last); j >= 0 && g.ahead(first).Dot(g.behind(j)) > backward && float64(j)*g.step > to-from {
		from, to, found = 0, float64(j)*g.step, true
	}
	return from, to, found
}

// nearestOf returns the sample between two that is nearest to a place, −1 if none lies
// within the tolerance.
func (a *again) nearestOf(p geodesy.Vec, from, to int) int {
	best, least := -1, toleranceM
	for _, i := range a.grid.around(a.g, p, toleranceM) {
		if d := geodesy.Chord(a.g.pos[i], p); i >= from && i <= to && d < least {
			best, least = i, d
		}
	}
	return best
}

// ahead and behind return the direction of the line after and before a sample.
func (g *ground) ahead(i int) geodesy.Vec {
	return unit(g.pos[min(i+2, g.last())].Sub(g.pos[i]))
}

func (g *ground) behind(i int) geodesy.Vec {
	return unit(g.pos[i].Sub(g.pos[max(i-2, 0)]))
}

// farMeetings returns for each sample the last one, minLoopM later or more, that lies
// at the same place in the same direction, 0 where there is none, and the greatest
// number of samples between the two.
func (a *again) farMeetings() (far []int, longest int) {
	far = make([]int, len(a.g.pos))
	for i := range far {
		if far[i] = a.lastMeeting(i); far[i] > 0 {
			longest = max(longest, far[i]-i)
		}
	}
	return far, longest
}

func (a *again) lastMeeting(i int) int {
	last := 0
	from := i + int(math.Ceil(a.g.steps(minLoopM)))
	key := a.grid.key(a.g.pos[i])
	for east := key[0] - 1; east <= key[0]+1; east++ {
		for north := key[1] - 1; north <= key[1]+1; north++ {
			items := a.grid.later([2]int32{east, north}, max(from, last+1))
			for k := len(items) - 1; k >= max(0, len(items)-seedsPerCell); k-- {
				d := a.g.pos[items[k]].Sub(a.g.pos[i])
				if d.Dot(d) <= toleranceM*toleranceM && a.g.dir[i].Dot(a.g.dir[items[k]]) > sameDirection {
					last = int(items[k])
					break
				}
			}
		}
	}
	return last
}

// merged returns the sample, from a first one on that meets the line again, at which
// the two roads have become one, and the place of the later one there.
func (a *again) merged(far []int, first int) (int, float64) {
	last := first
	for last-first < loopReach && last+1 < len(far) && far[last+1] > far[first]-loopReach {
		last++
	}
	nearest := math.Inf(1)
	places, apart := make([]float64, last-first+1), make([]float64, last-first+1)
	for k := range places {
		places[k], apart[k] = a.g.nearest(a.g.pos[first+k], float64(far[first]+k), loopReach)
		nearest = min(nearest, apart[k])
	}
	k := 0
	for apart[k] > nearest+mergedM {
		k++
	}
	return first + k, places[k]
}
