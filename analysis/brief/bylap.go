package brief

import (
	"math"
	"slices"

	"parcours.example/analysis/course"
)

// fewestByRule is the fewest passes that are told by a rule: two are as short in full.
const fewestByRule = 3

// onceALap finds the passes that come once on each lap and always as far into it: all but
// those outside the laps. They are passes[first:last].
func (w writer) onceALap(passes []pass) (first, last int, regular bool) {
	for first < len(passes) && passes[first].lap == 0 {
		first++
	}
	last = first
	for last < len(passes) && passes[last].lap > 0 {
		if last > first && passes[last].lap != passes[last-1].lap+1 || !w.asFar(passes[first], passes[last]) {
			return 0, 0, false
		}
		last++
	}
	for _, p := range passes[last:] {
		if p.lap > 0 {
			return 0, 0, false
		}
	}
	return first, last, last-first >= fewestByRule
}

// asFar reports whether two passes are as far into their laps.
func (w writer) asFar(a, b pass) bool {
	return math.Abs(w.intoLap(a)-w.intoLap(b)) <= w.lapTolerance()
}

// lapTolerance is how far positions may differ that count as the same on each lap, in m:
// 1 % of a lap, but no less than 25 m, as well as the lap lines of a recorded ride can be
// told, and no more than 50 m, half the last digit of a long distance.
func (w writer) lapTolerance() float64 { return min(max(0.01*w.in.Course.Laps.LengthM, 25), 50) }

// intoLap is how far into its lap a pass is, in m.
func (w writer) intoLap(p pass) float64 {
	for _, part := range w.in.Course.Parts {
		if part.Kind == course.Lap && part.Lap == p.lap {
			return p.at - part.StartM
		}
	}
	return p.at
}

// onLapLine reports whether passes are at the lap line, one lap after the other.
func (w writer) onLapLine(passes []pass) bool {
	var line []float64
	for _, part := range w.in.Course.Parts {
		if part.Kind == course.Lap {
			line = append(line, part.StartM)
		}
	}
	if len(line) == 0 || len(passes) < fewestByRule {
		return false
	}
	line = append(line, w.lastLap().EndM)
	next := slices.IndexFunc(line, func(at float64) bool { return math.Abs(at-passes[0].at) <= w.lapTolerance() })
	if next < 0 || next+len(passes) > len(line) {
		return false
	}
	for i, p := range passes {
		if math.Abs(line[next+i]-p.at) > w.lapTolerance() {
			return false
		}
	}
	return true
}

// atLapLine tells passes at the lap line.
func (w writer) atLapLine(id string, passes []pass) phrase {
	last := len(passes) - 1
	return say("{} on the lap line, first {}, last {}", w.times(id+".passes", len(passes)), w.first(passFact(id, 0), passes[0]),
		w.last(passFact(id, last), passes[last]))
}

// byLap tells passes that come once a lap by how far into it they come, with the first
// and the last of them, and those outside the laps one by one.
func (w writer) byLap(id string, passes []pass, first, last int) phrase {
	from, to := passes[first], passes[last-1]
	told := w.rule(id, from, to)
	if from.at-w.intoLap(from) >= atEndM {
		told = say("{}, first {}", told, w.first(passFact(id, first), from))
	}
	told = say("{}, last {}", told, w.last(passFact(id, last-1), to))
	for _, outside := range [][2]int{{0, first}, {last, len(passes)}} {
		if outside[0] < outside[1] {
			told = say("{}; also {}", told, w.eachPass(id, passes, outside[0], outside[1]))
		}
	}
	return told
}

// rule says how far into which laps a place comes.
func (w writer) rule(id string, from, to pass) phrase {
	laps := words("each lap")
	if from.lap > 1 || to.lap < w.in.Course.Laps.Count {
		laps = say("laps {} to {}", w.ordinal(id+".first_lap", from.lap), w.ordinal(id+".last_lap", to.lap))
	}
	if into := w.intoLap(from); into >= w.lapTolerance() {
		return say("{} into {}", w.length(id+".into_lap_m", into), laps)
	}
	return say("at the start of {}", laps)
}
