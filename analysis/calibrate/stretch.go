package calibrate

import (
	"math"
)

const (
	// shortestM and shortestS are what a stretch must have at least.
	shortestM = 80.0
	shortestS = 8.0
	// evenM is how long stretches are made: short enough to tell a hill's slow side from
	// its fast one.
	evenM = 300.0
	// mostStretches bounds their number, and with it the work, which grows with its third
	// power: in longer rides stretches are longer.
	mostStretches = 200
)

// Class says what a stretch of road most likely was.
type Class string

// The classes.
const (
	// OwnAir: the rider's own drag.
	OwnAir Class = "own_air"
	// Sheltered: less drag than the rider has alone.
	Sheltered Class = "sheltered"
	// Spoiled: something else took energy, or gave it.
	Spoiled Class = "spoiled"
)

// Stretch is a stretch of road as one equation saw it.
type Stretch struct {
	// Session is the index of the session.
	Session int
	// StartM and EndM are places on its course, StartS and EndS times of its ride.
	StartM, EndM, StartS, EndS float64
	// DragFactor is the drag over the drag that CdA gives, with the standard error of the
	// errors found; both NaN where the air has no part.
	DragFactor, DragFactorSE float64
	// Weight is the probability that it was the rider's own air, with which it counts.
	Weight float64
	Class  Class
}

// span is a run of intervals first…last that all count.
type span struct{ first, last int }

// spans returns the stretches of a session of about a length in m.
func (l *laid) spans(lengthM float64) []span {
	var spans []span
	for i := 1; i < len(l.points); {
		if l.reason[i] != "" {
			i++
			continue
		}
		end := i
		for end+1 < len(l.points) && l.reason[end+1] == "" {
			end++
		}
		spans = append(spans, l.divide(span{i, end}, lengthM)...)
		i = end + 1
	}
	return spans
}

// divide cuts a run into even stretches of about a length; what is too short is marked.
func (l *laid) divide(run span, lengthM float64) []span {
	start, end := l.points[run.first-1].AtM, l.points[run.last].AtM
	count := max(math.Round((end-start)/lengthM), 1)
	var out []span
	first := run.first
	for k := 1.0; k <= count && first <= run.last; k++ {
		to := start + (end-start)*k/count
		last := first
		for last < run.last && (k == count || l.points[last].AtM < to) {
			last++
		}
		s := span{first, last}
		if l.enough(s) {
			out = append(out, s)
		} else {
			for i := s.first; i <= s.last; i++ {
				l.mark(i, TooShort)
			}
		}
		first = last + 1
	}
	return out
}

func (l *laid) enough(s span) bool {
	from, to := &l.points[s.first-1], &l.points[s.last]
	return to.AtM-from.AtM >= shortestM && to.TimeS-from.TimeS >= shortestS
}

// usableM is the length of road in m of the intervals that count.
func (l *laid) usableM() float64 {
	sum := 0.0
	for i := 1; i < len(l.points); i++ {
		if l.reason[i] == "" {
			sum += l.points[i].AtM - l.points[i-1].AtM
		}
	}
	return sum
}

// exclude adds what was left out to the sums by reason, which are in the order of their
// first appearance.
func (l *laid) exclude(sums []Exclusion) []Exclusion {
	for i := 1; i < len(l.points); i++ {
		r := l.reason[i]
		if r == "" {
			continue
		}
		k := 0
		for k < len(sums) && sums[k].Reason != r {
			k++
		}
		if k == len(sums) {
			sums = append(sums, Exclusion{Reason: r})
		}
		sums[k].LengthM += l.points[i].AtM - l.points[i-1].AtM
		sums[k].TimeS += l.points[i].TimeS - l.points[i-1].TimeS
	}
	return sums
}
