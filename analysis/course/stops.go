package course

import (
	"math"

	"parcours.example/analysis/geodesy"
)

// Points recorded while standing go to and fro in one place: stopPoints or more within a
// distance of the first, over which the way is stopDetour times the beeline. Within
// stopRadiusM that is enough; a receiver's error wanders up to wanderRadiusM in a long
// stop, and then the steps must be shorter than stopStep medians too, for a circle may be
// ridden in as little room.
const (
	stopRadiusM   = 10.0
	wanderRadiusM = 30.0
	stopPoints    = 10
	stopDetour    = 3.0
	stopStep      = 0.5
	// stopGap is how many points may lie between two parts of one stop.
	stopGap = 12
	// longestStop bounds the points of a part, and with it the work.
	longestStop = 500
)

// dropStops makes one point of the points of each stop and returns how many points that
// takes out.
func (l *line) dropStops() int {
	shortStep := stopStep * medianStep(l.s)
	kept, dropped := 0, 0
	for i := 0; i < len(l.pos); kept++ {
		end := l.wholeStop(i, shortStep)
		l.move(kept, i)
		if end > i+1 {
			l.pos[kept], l.z[kept] = l.mean(i, end)
			dropped += end - i - 1
		}
		i = end
	}
	if kept == 1 { // the whole line is one stop: leave it its ends
		return 0
	}
	l.cut(kept)
	return dropped
}

// wholeStop returns the index after the stop that starts at point i, with all parts of
// it that follow at the same place; i+1 when none does.
func (l *line) wholeStop(i int, shortStep float64) int {
	end := l.stopEnd(i, shortStep)
	if end == i+1 {
		return end
	}
	for next := end; next < min(end+stopGap, len(l.pos)); next++ {
		if geodesy.Chord(l.pos[i], l.pos[next]) > 2*wanderRadiusM {
			break
		}
		if part := l.stopEnd(next, shortStep); part > next+1 {
			end, next = part, part-1
		}
	}
	return end
}

// stopEnd returns the index after the part of a stop that starts at point i; i+1 when
// none does.
func (l *line) stopEnd(i int, shortStep float64) int {
	if i+1 < len(l.pos) && geodesy.Chord(l.pos[i], l.pos[i+1]) <= shortStep {
		end := l.within(i, wanderRadiusM)
		if l.goesToAndFro(i, end, wanderRadiusM/2) && l.wayOf(i, end) <= shortStep*float64(end-i-1) {
			return end
		}
	}
	if end := l.within(i, stopRadiusM); l.goesToAndFro(i, end, stopRadiusM/2) {
		return end
	}
	return i + 1
}

// within returns the index of the first point after i that is farther from it than a
// distance in metres, longestStop points on at the most.
func (l *line) within(i int, radiusM float64) int {
	end := i + 1
	for end < min(len(l.pos), i+longestStop) && geodesy.Chord(l.pos[i], l.pos[end]) <= radiusM {
		end++
	}
	return end
}

// goesToAndFro reports whether the points from i up to end are many and get nowhere; a
// beeline counts as leastM at least.
func (l *line) goesToAndFro(i, end int, leastM float64) bool {
	beeline := geodesy.Chord(l.pos[i], l.pos[end-1])
	return end-i >= stopPoints && l.wayOf(i, end) >= stopDetour*max(beeline, leastM)
}

// wayOf returns the length of the way over the points from i up to end in metres.
func (l *line) wayOf(i, end int) float64 { return l.s[end-1] - l.s[i] }

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
