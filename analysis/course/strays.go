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
	// strayRounds is how often single strays are looked for: one may hide another.
	strayRounds = 3
)

// strays looks for the points that a recorded line jumps to and back from, and takes
// them out. It returns their number and where the first was, in metres.
func (l *line) strays() (count int, first float64) {
	steps := sortedSteps(l.s)
	if len(steps) < minSmoothed {
		return 0, 0
	}
	median := steps[len(steps)/2]
	if steps[len(steps)*9/10] > evenSteps*median {
		return 0, 0
	}
	first = math.Inf(1)
	take := func(astray []bool) bool {
		n := slices.Index(astray, true)
		if n < 0 {
			return false
		}
		first = min(first, l.s[max(n-1, 0)])
		before := len(l.s)
		l.keep(astray, false)
		count += before - len(l.s)
		return true
	}
	take(l.strayRuns(median))
	for range strayRounds {
		if !take(l.spikes()) {
			break
		}
	}
	return count, first
}

// keep keeps the points of which the mark is as given.
func (l *line) keep(marks []bool, mark bool) {
	kept := 0
	for i, m := range marks {
		if m == mark {
			l.move(kept, i)
			kept++
		}
	}
	l.cut(kept)
}

// strayRuns marks short runs of points that stand far off.
func (l *line) strayRuns(median float64) []bool {
	astray := make([]bool, len(l.pos))
	far := max(strayM, strayMedians*median)
	last := 0 // the last point on the line
	for i := 1; i < len(l.pos); i++ {
		back := l.comesBack(last, i, far, returnMedians*median)
		for ; i < back; i++ {
			astray[i] = true
		}
		last = i
	}
	return astray
}

// comesBack returns the index of the first point back at the line when the step from
// the last point on it to point i leads astray, else i.
func (l *line) comesBack(last, i int, far, perPoint float64) int {
	if geodesy.Chord(l.pos[last], l.pos[i]) < far {
		return i
	}
	for j := i + 1; j < min(len(l.pos), i+strayRun); j++ {
		if geodesy.Chord(l.pos[j-1], l.pos[j]) >= far &&
			geodesy.Chord(l.pos[last], l.pos[j]) <= perPoint*float64(j-i+1) {
			return j
		}
	}
	return i
}

// A single stray is told where the points follow each other evenly, as those written
// every few seconds do: then the two on either side foretell where one must lie. Whoever
// turns round is 0.7 steps off that place at the most.
const (
	// A stray is off by spikeM and by spikeLong times a long step among the spikeSpan
	// points on either side, more than its neighbours are, and the way over it makes a
	// detour of spikeM and of spikeDetour times itself.
	spikeM      = 40.0
	spikeLong   = 1.2
	spikeDetour = 0.35
	spikeSpan   = 6
	// The points are even where the middle one of the ratios of successive steps is
	// below spikeRatio, or the middle half of the steps lies within a factor of spikeSteps.
	spikeRatio = 1.3
	spikeSteps = 1.8
)

// spikes marks single points that stand off the line.
func (l *line) spikes() []bool {
	n := len(l.pos)
	astray := make([]bool, n)
	var off [3]float64 // of the points before, at and after i
	for i := 1; i+1 < n; i++ {
		off[0], off[1] = off[1], off[2]
		if i == 1 {
			off[1] = l.off(1)
		}
		off[2] = l.off(i + 1)
		if off[1] >= max(spikeM, off[0], off[2]) && !astray[i-1] {
			astray[i] = l.isSpike(i, off[1])
		}
	}
	return astray
}

// off returns how far point i is from the place that the two points on either side
// foretell, in metres: that of the cubic through them, or of the middle between its
// neighbours near the ends; 0 at the ends.
func (l *line) off(i int) float64 {
	n := len(l.pos)
	if i < 1 || i+1 >= n {
		return 0
	}
	near := l.pos[i-1].Sub(l.pos[i]).Add(l.pos[i+1].Sub(l.pos[i]))
	if i < 2 || i+2 >= n {
		return near.Scale(0.5).Norm()
	}
	far := l.pos[i-2].Sub(l.pos[i]).Add(l.pos[i+2].Sub(l.pos[i]))
	return near.Scale(4.0 / 6).Sub(far.Scale(1.0 / 6)).Norm()
}

// isSpike reports whether point i, off by a distance in metres, is a stray.
func (l *line) isSpike(i int, off float64) bool {
	way := geodesy.Chord(l.pos[i-1], l.pos[i]) + geodesy.Chord(l.pos[i], l.pos[i+1])
	detour := way - geodesy.Chord(l.pos[i-1], l.pos[i+1])
	if detour < max(spikeM, spikeDetour*way) {
		return false
	}
	long, even := l.stepsAround(i)
	return even && off >= spikeLong*long
}

// stepsAround returns the upper quartile of the steps around point i, its own two left
// out, and whether they are even.
func (l *line) stepsAround(i int) (long float64, even bool) {
	var steps, ratios [2*spikeSpan + 2]float64
	n, r := 0, 0
	for j := max(1, i-spikeSpan); j <= min(len(l.pos)-1, i+1+spikeSpan); j++ {
		if j == i || j == i+1 {
			continue
		}
		steps[n] = geodesy.Chord(l.pos[j-1], l.pos[j])
		if n > 0 && j != i+2 {
			ratios[r] = max(steps[n]/steps[n-1], steps[n-1]/steps[n])
			r++
		}
		n++
	}
	if n < spikeSpan {
		return 0, false
	}
	slices.Sort(steps[:n])
	slices.Sort(ratios[:r])
	return steps[n*3/4], ratios[r/2] <= spikeRatio || steps[n*3/4] <= spikeSteps*steps[n/4]
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
