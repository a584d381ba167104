package terrain

import (
	"math"
	"slices"
)

// coverCellM is the length of the cells of a cover in metres.
const coverCellM = 1000

// cover is a set of spans, cut at the cells that they lie in, so that those near
// another are found at once.
type cover map[int][]span

// cells calls f with the part of a span in each cell.
func (a span) cells(f func(cell int, part span)) {
	for k := int(math.Floor(a.start / coverCellM)); float64(k)*coverCellM < a.end; k++ {
		from, to := float64(k)*coverCellM, float64(k+1)*coverCellM
		f(k, span{max(a.start, from), min(a.end, to)})
	}
}

func (c cover) add(s span) {
	s.cells(func(cell int, part span) { c[cell] = append(c[cell], part) })
}

// holds reports whether nearly all of a span lies in those of the cover.
func (c cover) holds(s span) bool {
	var sum float64
	s.cells(func(cell int, part span) {
		for _, other := range c[cell] {
			sum += part.overlap(other)
		}
	})
	return sum >= sameGround*s.length()
}

// holdsOneOfEach reports whether of each list of places one lies in the span.
func (a span) holdsOneOfEach(places [][]float64) bool {
	return !slices.ContainsFunc(places, func(at []float64) bool {
		return !slices.ContainsFunc(at, func(x float64) bool { return x > a.start && x < a.end })
	})
}
