package course

import (
	"math"
	"sort"
)

// minRepeatM is the least length in metres of a repeated stretch that is reported.
const minRepeatM = 200.0

// findRepeats returns the stretches that are ridden again in the same direction,
// each with its next pass, in course order. What follows from the laps alone is left
// out: of the laps only the first is looked at.
func (c *Course) findRepeats(lines []float64) []Repeat {
	if c.again == nil {
		return nil
	}
	next := c.again.nextPasses()
	if !c.again.oneLap {
		c.again.dropLaps(next, lines)
	}
	var repeats []Repeat
	for i := 0; i < len(next); {
		last := c.again.stretch(next, lines, i)
		r := Repeat{float64(i), float64(last), next[i], next[last]}
		if least := c.again.g.steps(minRepeatM); r.EndM-r.StartM >= least && r.AgainEndM-r.AgainStartM >= least {
			step := c.again.g.step
			repeats = append(repeats, Repeat{r.StartM * step, r.EndM * step, r.AgainStartM * step, min(r.AgainEndM*step, c.again.g.lengthM)})
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
func (a *again) dropLaps(next, lines []float64) {
	for i, x := range next {
		from, to := lapOf(lines, float64(i)*a.g.step), lapOf(lines, x*a.g.step)
		if isLap(lines, from) && isLap(lines, to) && (from > 1 || to > 1) {
			next[i] = math.NaN()
		}
	}
}

// stretch returns the last sample of the stretch that begins at sample i and whose
// next pass is one stretch too, neither crossing a lap line.
func (a *again) stretch(next, lines []float64, i int) int {
	leap := a.g.steps(2 * toleranceM)
	place := func(i int) [2]int {
		return [2]int{lapOf(lines, float64(i)*a.g.step), lapOf(lines, next[i]*a.g.step)}
	}
	for ; i+1 < len(next); i++ {
		if d := next[i+1] - next[i]; !(d >= -1 && d <= leap) || place(i) != place(i+1) {
			break
		}
	}
	return i
}

// lapOf returns the number of lap lines at or before a position: 0 in the lead-in,
// beyond the laps their number plus one.
func lapOf(lines []float64, at float64) int {
	return sort.Search(len(lines), func(k int) bool { return lines[k] > at })
}

// isLap reports whether a number of lapOf is that of a lap.
func isLap(lines []float64, n int) bool { return n > 0 && n < len(lines) }
