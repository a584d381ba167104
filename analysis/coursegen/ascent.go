package coursegen

import (
	"math"
	"slices"
)

// ascent returns the sum of all rises.
func ascent(z []float64) float64 {
	sum := 0.0
	for i := 1; i < len(z); i++ {
		sum += math.Max(0, z[i]-z[i-1])
	}
	return sum
}

// ascentOver returns the sum of the rises between the turning points that remain
// when legs below a threshold are taken out, the smallest first. A leg between two
// others goes with both its ends, one at an end of the profile with its inner end.
func ascentOver(z []float64, threshold float64) float64 {
	turns := turningPoints(z)
	for len(turns) > 2 {
		at, least := 0, math.Inf(1)
		for i := range len(turns) - 1 {
			if leg := math.Abs(turns[i+1] - turns[i]); leg < least {
				at, least = i, leg
			}
		}
		if least >= threshold {
			break
		}
		switch at {
		case 0:
			turns = slices.Delete(turns, 1, 2)
		case len(turns) - 2:
			turns = slices.Delete(turns, at, at+1)
		default:
			turns = slices.Delete(turns, at, at+2)
		}
	}
	return ascent(turns)
}

// turningPoints returns the profile's ends and the highs and lows between them.
func turningPoints(z []float64) []float64 {
	turns := z[:1:1]
	for i := 1; i < len(z)-1; i++ {
		if (z[i]-turns[len(turns)-1])*(z[i+1]-z[i]) < 0 {
			turns = append(turns, z[i])
		}
	}
	return append(turns, z[len(z)-1])
}
