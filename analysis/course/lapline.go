package course

import (
	"math"
	"slices"
	"sort"

	"parcours.example/analysis/track"
)

// moveLine returns the laps counted from the place that is named as their line instead
// of the line that was found. Where that can't be they stay, with a warning.
func (c *Course) moveLine(name string, laps rounds, others []rounds, marks []track.Mark) rounds {
	i := slices.IndexFunc(marks, func(m track.Mark) bool { return m.Name == name })
	switch {
	case i < 0:
		c.Quality.warn("lap-line-unknown", math.NaN(), "no place is called %q; the lap line stays where it was found", name)
		return laps
	case c.Laps.Source == LapsDeclared:
		c.Quality.warn("lap-line-unused", math.NaN(), "the %d laps were declared, so that %q is not their line", laps.count(), name)
		return laps
	case laps.count() == 0:
		c.Quality.warn("lap-line-unused", math.NaN(), "no laps were found that %q could be the line of", name)
		return laps
	}
	at := c.passesNear(marks[i])
	from, to := between(laps, others, c.LengthM())
	at = slices.DeleteFunc(at, func(x float64) bool { return x < from || x > to })
	lines := everyLap(at, c.Laps.LengthM)
	if len(lines) < 3 {
		c.Quality.warn("lap-line-off-circuit", math.NaN(), "the place %q is not passed once a lap, but %d times around the %d laps; the lap line stays where it was found", name, len(at), laps.count())
		return laps
	}
	if c.again == nil {
		return rounds{lines, laps.agreed}
	}
	agreed, _ := c.again.agreementAt(lines)
	return rounds{lines, agreed}
}

// passesNear returns the passes of a mark that the course comes near to.
func (c *Course) passesNear(m track.Mark) []float64 {
	switch {
	case byDistance(m):
		return c.passesOfMark([]float64{min(max(m.AtM, 0), c.LengthM())}, onLineM)
	case c.again == nil:
		return nil
	}
	near, off := c.comesBy(m)
	if off > markNearM {
		return nil
	}
	return c.passesOfMark(near, onLineM)
}

// between returns where the stretch begins and ends that holds the laps of one circuit
// and none of the others, with what a lap line may be off.
func between(laps rounds, others []rounds, length float64) (from, to float64) {
	from, to = 0, length
	for _, r := range others {
		if r.last() <= laps.first()+snapM {
			from = max(from, r.last()-snapM)
		} else {
			to = min(to, r.first()+snapM)
		}
	}
	return from, to
}

// everyLap returns the longest of the chains of ordered positions that are about a lap
// of a length in metres apart, the first of those that are as long. A place at a
// crossing, or on a road used twice, is passed more than once a lap.
func everyLap(at []float64, lapM float64) []float64 {
	var longest []float64
	slack := max(float64(passLengthShare*lapM), passLengthM)
	used := make([]bool, len(at))
	for k := range at {
		if used[k] { // what follows it is the rest of a chain
			continue
		}
		chain := []float64{at[k]}
		for i := near(at, at[k]+lapM, slack); i >= 0; i = near(at, at[i]+lapM, slack) {
			chain = append(chain, at[i])
			used[i] = true
		}
		if len(chain) > len(longest) {
			longest = chain
		}
	}
	return longest
}

// near returns the index of the ordered position nearest to a wanted one, −1 if none is
// within a distance in metres.
func near(sorted []float64, want, within float64) int {
	i := sort.SearchFloat64s(sorted, want)
	if i > 0 && (i == len(sorted) || want-sorted[i-1] < sorted[i]-want) {
		i--
	}
	if i == len(sorted) || math.Abs(sorted[i]-want) > within {
		return -1
	}
	return i
}
