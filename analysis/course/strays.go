package course

import (
	"math"
	"slices"

	"parcours.example/analysis/geodesy"
)

const (
	// A recorded line has steps of much the same length: nine in ten are below
	// evenSteps medians. On other lines a long step proves nothing.
	evenSteps = 5.0
	// A run of strays stands off by strayM, and by strayMedians medians of the step,
	// and comes back within strayRun points.
	strayM       = 50.0
	strayMedians = 15.0
	strayRun     = 20
	// returnMedians is how many medians of the step per point the line may have gone
	// on meanwhile.
	returnMedians = 3.0

	// A single stray makes a detour of spikeM, and of spikeDetour times a long step
	// among the spikeSpan points on either side; the longer of its own two steps is
	// longStep such steps, the shorter shortStep. A rider who turns round makes a detour
	// of two.
	// The middle half of the steps around it must lie within a factor of spikeSteps: a
	// single stray is told from a corner where the line is even only.
	spikeSteps  = 1.8
	spikeM      = 40.0
	spikeDetour = 2.2
	spikeSpan   = 6
	longStep    = 1.6
	shortStep   = 1.0
)

// dropStrays takes out short runs of points that a recorded line jumps to and back
// from.
func (l *line) dropStrays(q *Quality) {
	steps := sortedSteps(l.s)
	if len(steps) < minSmoothed {
		return
	}
	median := steps[len(steps)/2]
	if steps[len(steps)*9/10] > evenSteps*median {
		return
	}
	far := max(strayM, strayMedians*median)
	kept, strays, first := 0, 0, 0.0
	for i := 1; i < len(l.s); i++ {
		back := l.comesBack(kept, i, far, returnMedians*median)
		if back == i && l.isSpike(kept, i) {
			back = i + 1
		}
		if back > i {
			if strays == 0 {
				first = l.s[kept]
			}
			strays += back - i
			i = back
		}
		kept++
		l.move(kept, i)
	}
	l.cut(kept + 1)
	if strays > 0 {
		l.s = axisOf(l.pos)
		q.PointsDropped += strays
		q.warn("spikes-repaired", first, "%d points stood far off the line and were taken out, the first of them here", strays)
	}
}

// comesBack returns the index of the first point back at the line when the step from
// the last kept point to point i leads astray, else i.
func (l *line) comesBack(kept, i int, far, perPoint float64) int {
	if geodesy.Chord(l.pos[kept], l.pos[i]) < far {
		return i
	}
	for j := i + 1; j < min(len(l.pos), i+strayRun); j++ {
		if geodesy.Chord(l.pos[j-1], l.pos[j]) >= far &&
			geodesy.Chord(l.pos[kept], l.pos[j]) <= perPoint*float64(j-i+1) {
			return j
		}
	}
	return i
}

// isSpike reports whether point i alone stands off the line between the last kept
// point and the next one.
func (l *line) isSpike(kept, i int) bool {
	if i+1 >= len(l.pos) {
		return false
	}
	there, back := geodesy.Chord(l.pos[kept], l.pos[i]), geodesy.Chord(l.pos[i], l.pos[i+1])
	detour := there + back - geodesy.Chord(l.pos[kept], l.pos[i+1])
	if detour < spikeM {
		return false
	}
	short, long := l.stepsAround(i)
	if long > spikeSteps*short {
		return false
	}
	return detour >= spikeDetour*long && max(there, back) >= longStep*long && min(there, back) >= shortStep*long
}

// stepsAround returns the lower and the upper quartile of the steps around point i, its
// own two left out.
func (l *line) stepsAround(i int) (short, long float64) {
	var steps [2*spikeSpan + 2]float64
	n := 0
	for j := max(1, i-spikeSpan); j <= min(len(l.s)-1, i+1+spikeSpan); j++ {
		if j != i && j != i+1 {
			steps[n] = l.s[j] - l.s[j-1]
			n++
		}
	}
	slices.Sort(steps[:n])
	return steps[n/4], steps[n*3/4]
}

const (
	// stopRadiusM is how far from its first point the points of a stop lie.
	stopRadiusM = 10.0
	// stopPoints is the fewest points that are a stop.
	stopPoints = 10
	// stopDetour is how many times its beeline the way through a stop is.
	stopDetour = 3.0
)

// dropStops makes one point of the points recorded while standing: many points close
// together that go to and fro.
func (l *line) dropStops(q *Quality) {
	kept := 0
	for i := 0; i < len(l.s); kept++ {
		end := l.stopEnd(i)
		l.move(kept, i)
		if end > i+1 {
			l.pos[kept], l.z[kept] = l.mean(i, end)
			q.PointsDropped += end - i - 1
		}
		i = end
	}
	if kept == 1 { // the whole line is one stop: leave it its ends
		return
	}
	l.cut(kept)
}

// stopEnd returns the index after the stop that starts at point i; i+1 when none
// does.
func (l *line) stopEnd(i int) int {
	end := i + 1
	for end < len(l.pos) && geodesy.Chord(l.pos[i], l.pos[end]) <= stopRadiusM {
		end++
	}
	way, beeline := l.s[end-1]-l.s[i], geodesy.Chord(l.pos[i], l.pos[end-1])
	if end-i < stopPoints || way < stopDetour*max(beeline, stopRadiusM/2) {
		return i + 1
	}
	return end
}

// mean returns the mean position, brought back to the surface, and the mean of the
// known elevations of the points from i up to end.
func (l *line) mean(i, end int) (geodesy.Vec, float64) {
	var sum geodesy.Vec
	z, known := 0.0, 0.0
	for k := i; k < end; k++ {
		sum = sum.Add(l.pos[k].Sub(l.pos[i]))
		if !math.IsNaN(l.z[k]) {
			z += l.z[k]
			known++
		}
	}
	return onSurface(l.pos[i].Add(sum.Scale(1/float64(end-i))), l.pos[i]), z / known
}

// sortedSteps returns the distances between points at different places in rising
// order.
func sortedSteps(s []float64) []float64 {
	steps := make([]float64, 0, len(s))
	for i := 1; i < len(s); i++ {
		if d := s[i] - s[i-1]; d > 0 {
			steps = append(steps, d)
		}
	}
	slices.Sort(steps)
	return steps
}
