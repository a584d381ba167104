package course

import "math"

// turningPoints returns the indices of the turning points of z that remain after
// the smallest interior rise or fall below the threshold has been removed, again
// and again: an interior low and high go together, a turning point whose leg to an
// end of the course is too small goes alone, the two ends always stay. Of z the
// result has the first index, the last, and between them alternating highs and lows
// whose legs are all at least the threshold. Linear in len(z) ≥ 1.
func turningPoints(z []float64, threshold float64) []int {
	turns := zigzag(z, threshold)
	// Inside, all legs now reach the threshold; those to the ends may not, and
	// each removal makes the next leg to that end shorter than it was.
	lo, hi := 0, len(turns)-1 // turns[lo] and turns[hi] stand for the ends
	for hi-lo > 1 {
		first := math.Abs(z[turns[lo+1]] - z[0])
		last := math.Abs(z[turns[hi-1]] - z[len(z)-1])
		if min(first, last) >= threshold {
			break
		}
		if first <= last {
			lo++
		} else {
			hi--
		}
	}
	turns = turns[lo : hi+1]
	turns[0], turns[len(turns)-1] = 0, len(z)-1
	return turns
}

// zigzag returns the first index, the extremes from which z turns back by at least
// the threshold, the last extreme and the last index.
func zigzag(z []float64, threshold float64) []int {
	turns := []int{0}
	low, high := 0, 0 // extremes since the last turn
	up, down := true, true
	for i, v := range z {
		if v > z[high] {
			high = i
		}
		if v < z[low] {
			low = i
		}
		switch {
		case up && high < i && z[high]-v >= threshold && z[high] > v:
			turns = appendTurn(turns, high)
			up, down, low = false, true, i
		case down && low < i && v-z[low] >= threshold && v > z[low]:
			turns = appendTurn(turns, low)
			up, down, high = true, false, i
		}
	}
	if up && !down {
		turns = appendTurn(turns, high)
	}
	if down && !up {
		turns = appendTurn(turns, low)
	}
	if n := len(z); n > 1 {
		turns = appendTurn(turns, n-1)
	}
	return turns
}

// appendTurn appends an index that isn't the last one already.
func appendTurn(turns []int, i int) []int {
	if turns[len(turns)-1] == i {
		return turns
	}
	return append(turns, i)
}

// cumulativeAscent returns the ascent and the descent up to each sample after the
// turning-point filter. On a leg up the ascent follows the highest elevation so far,
// on a leg down the descent the lowest, so that ascent − descent is the difference of
// elevation between turning points, reversing z swaps the two, and a higher threshold
// raises neither.
func cumulativeAscent(z []float64, threshold float64) (ascent, descent []float64) {
	ascent, descent = make([]float64, len(z)), make([]float64, len(z))
	turns := turningPoints(z, threshold)
	for k := 1; k < len(turns); k++ {
		from, to := turns[k-1], turns[k]
		done := 0.0 // share of the leg's height, with its sign
		for i := from + 1; i <= to; i++ {
			if z[to] >= z[from] {
				done = max(done, min(z[i], z[to])-z[from])
			} else {
				done = min(done, max(z[i], z[to])-z[from])
			}
			ascent[i] = ascent[from] + max(done, 0)
			descent[i] = descent[from] - min(done, 0)
		}
	}
	return ascent, descent
}
