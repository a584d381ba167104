package course

import (
	"cmp"
	"math"
	"slices"
	"sort"
)

// minRepeatM is the least length in metres of a repeated stretch that is reported.
const minRepeatM = 200.0

// findRepeats returns the stretches that are ridden again in the same direction,
// each with its next pass, in course order. What follows from the laps of a circuit
// alone is left out: of them only the first is looked at.
func (c *Course) findRepeats(all []rounds) []Repeat {
	if c.again == nil {
		return nil
	}
	g, next, laps := c.again.g, c.again.nextPasses(), divide(all)
	if !c.again.oneLap {
		c.again.dropLaps(next, laps)
	}
	var repeats []Repeat
	for i := 0; i < len(next); {
		last := c.again.stretch(next, laps, i)
		r := Repeat{float64(i), float64(last), next[i], next[last]}
		if least := g.steps(minRepeatM); r.EndM-r.StartM >= least && r.AgainEndM-r.AgainStartM >= least {
			repeats = append(repeats, Repeat{r.StartM * g.step, r.EndM * g.step, r.AgainStartM * g.step, min(r.AgainEndM*g.step, g.lengthM)})
		}
		i = last + 1
	}
	return repeats
}

// nextPasses returns for each sample its place on the next pass, NaN where there is
// none.
func (a *again) nextPasses() []float64 {
	next := make([]float64, len(a.g.pos))
	for i := range next {
		next[i] = math.NaN()
	}
	for _, r := range a.runs {
		for k, x := range r.to {
			if i := r.from + k; math.IsNaN(next[i]) || x < next[i] {
				next[i] = x
			}
		}
	}
	return next
}

// dropLaps takes out what is ridden again on a later lap.
func (a *again) dropLaps(next []float64, laps division) {
	for i, x := range next {
		from, to := laps.at(float64(i)*a.g.step), laps.at(x*a.g.step)
		if from.lap > 0 && to.lap > 0 && from.circuit == to.circuit && from.lap+to.lap > 2 {
			next[i] = math.NaN()
		}
	}
}

// stretch returns the last sample of the stretch that begins at sample i and whose
// next pass is one stretch too, neither crossing a lap line.
func (a *again) stretch(next []float64, laps division, i int) int {
	leap := a.g.steps(2 * toleranceM)
	place := func(i int) [2]lapNumber {
		return [2]lapNumber{laps.at(float64(i) * a.g.step), laps.at(next[i] * a.g.step)}
	}
	for ; i+1 < len(next); i++ {
		if d := next[i+1] - next[i]; !(d >= -1 && d <= leap) || place(i) != place(i+1) {
			break
		}
	}
	return i
}

// division tells which lap of which circuit a position is on.
type division struct {
	// lines are all lap lines in order; begins holds what begins at each.
	lines  []float64
	begins []lapNumber
}

// lapNumber is the 1-based number of a lap on a circuit, the first of which is 1. Lap 0
// is what follows the circuit's laps, that of circuit 0 what comes before all.
type lapNumber struct{ circuit, lap int }

// divide returns the division by the laps of all circuits, which don't overlap.
func divide(all []rounds) division {
	all = slices.DeleteFunc(slices.Clone(all), func(r rounds) bool { return r.count() == 0 })
	slices.SortFunc(all, func(a, b rounds) int { return cmp.Compare(a.first(), b.first()) })
	var d division
	for i, r := range all {
		d.lines = append(d.lines, r.lines...)
		for k := range r.lines {
			d.begins = append(d.begins, lapNumber{circuit: i + 1, lap: (k + 1) % len(r.lines)})
		}
	}
	return d
}

// at returns the lap of a position. The line between two belongs to the later one.
func (d division) at(at float64) lapNumber {
	k := sort.Search(len(d.lines), func(k int) bool { return d.lines[k] > at })
	if k == 0 {
		return lapNumber{}
	}
	return d.begins[k-1]
}
