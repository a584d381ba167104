package course

import (
	"math"
	"slices"
	"sort"
)

const (
	// samePassM is the distance in metres along the course within which two
	// positions are the same pass.
	samePassM = 100.0
	// measureM is how far along the course a position is sought on another pass
	// around where the runs put it.
	measureM = 50.0
	// A pass of a stretch may differ from it in length by the larger of these.
	passLengthShare = 0.1
	passLengthM     = 50.0
)

// Passes returns, in order, all positions in metres at which the ground at a
// position is ridden in the same direction, the position itself included. Each is
// measured on its own pass. On the lap line these are all lap lines, from the start
// of the first lap to the end of the last.
func (c *Course) Passes(at float64) []float64 {
	at = min(max(at, 0), c.LengthM())
	lines := c.lapLines()
	const onLine = 0.5
	if k := sort.SearchFloat64s(lines, at-onLine); k < len(lines) && lines[k] <= at+onLine {
		return withPass(lines, at, onLine)
	}
	if c.again == nil || c.again.oneLap {
		return c.passesByLap(lines, at)
	}
	found := c.again.passes(at)
	for _, x := range sharedLapPlaces(lines, at) {
		if y, ok := c.again.measure(at, x); ok {
			found = withPass(found, y, samePassM)
		}
	}
	return found
}

// passesByLap returns the passes on laps that are copies of each other, or of which
// nothing but their lines is known.
func (c *Course) passesByLap(lines []float64, at float64) []float64 {
	places := sharedLapPlaces(lines, at)
	if places == nil {
		places = []float64{at}
	}
	if c.again == nil {
		return withPass(places, at, samePassM)
	}
	var all []float64
	for _, first := range c.again.passes(places[0]) {
		for _, x := range sharedLapPlaces(lines, first) {
			all = withPass(all, x, samePassM)
		}
	}
	return withPass(all, at, samePassM)
}

// sharedLapPlaces returns the place of each lap at the same share of it as a
// position; nil outside laps.
func sharedLapPlaces(lines []float64, at float64) []float64 {
	if len(lines) == 0 || at < lines[0] || at > lines[len(lines)-1] {
		return nil
	}
	k := min(sort.Search(len(lines), func(k int) bool { return lines[k] > at }), len(lines)-1)
	share := (at - lines[k-1]) / (lines[k] - lines[k-1])
	places := make([]float64, 0, len(lines)-1)
	for k := 1; k < len(lines); k++ {
		places = append(places, lines[k-1]+float64(share*(lines[k]-lines[k-1])))
	}
	return places
}

// withPass returns the ordered positions with at among them; it takes the place of
// one that is within a distance in metres of it. The slice given is not to be used
// any more.
func withPass(sorted []float64, at, within float64) []float64 {
	i := sort.SearchFloat64s(sorted, at)
	for _, k := range []int{i, i - 1} {
		if k >= 0 && k < len(sorted) && math.Abs(sorted[k]-at) <= within {
			sorted[k] = at
			return sorted
		}
	}
	return slices.Insert(sorted, i, at)
}

// passes follows the runs from a position to all places that they join it with, in
// metres and in order.
func (a *again) passes(at float64) []float64 {
	found := []float64{at}
	seen := passSet{}
	seen.add(at)
	for k := 0; k < len(found); k++ {
		x := a.g.steps(found[k])
		for _, id := range a.runsBy(x) {
			for _, z := range a.runs[id].others(x) {
				y, ok := a.measure(at, z*a.g.step)
				if ok && !seen.has(y) {
					found = append(found, y)
					seen.add(y)
				}
			}
		}
	}
	slices.Sort(found)
	return found
}

// passSet holds positions in metres by the multiple of samePassM below them.
type passSet map[int][]float64

func (s passSet) add(at float64) {
	cell := int(at / samePassM)
	s[cell] = append(s[cell], at)
}

// has reports whether a position is the same pass as one in the set.
func (s passSet) has(at float64) bool {
	near := func(x float64) bool { return math.Abs(x-at) <= samePassM }
	cell := int(at / samePassM)
	return slices.ContainsFunc(s[cell], near) || slices.ContainsFunc(s[cell-1], near) || slices.ContainsFunc(s[cell+1], near)
}

// others returns where a run puts a place: on the pass after, on the pass before.
func (r *run) others(x float64) []float64 {
	var places []float64
	if x >= float64(r.from) && x <= float64(r.last()) {
		places = append(places, r.image(x))
	}
	if x >= r.to[0] && x <= r.to[len(r.to)-1] {
		places = append(places, r.origin(x))
	}
	return places
}

// measure returns the position near x of the pass of the ground at a position, and
// whether the course comes by there in its direction.
func (a *again) measure(at, x float64) (float64, bool) {
	from := a.g.steps(at)
	y, d := a.g.nearest(a.g.point(from), a.g.steps(x), a.g.steps(measureM))
	if d > 2*toleranceM {
		return x, false
	}
	i := min(max(int(math.Round(from)), 0), a.g.last())
	j := min(max(int(math.Round(y)), 0), a.g.last())
	return min(y*a.g.step, a.g.lengthM), a.g.dir[i].Dot(a.g.dir[j]) > 0
}

func anyWithin(sorted []float64, at, within float64) bool {
	i := sort.SearchFloat64s(sorted, at-within)
	return i < len(sorted) && sorted[i] <= at+within
}

// PassesOf returns, in order, the start and the end of each pass of a stretch, in
// metres: both ends are measured on that pass, and the pass is as long as the
// stretch within the larger of 10 % and 50 m.
func (c *Course) PassesOf(start, end float64) [][2]float64 {
	length := end - start
	slack := max(passLengthShare*length, passLengthM)
	ends := c.Passes(end)
	var passes [][2]float64
	for _, s := range c.Passes(start) {
		best, off := 0.0, math.Inf(1)
		i := sort.SearchFloat64s(ends, s+length)
		for _, e := range ends[max(i-1, 0):min(i+1, len(ends))] {
			if d := math.Abs(e - s - length); d < off {
				best, off = e, d
			}
		}
		if off <= slack && best > s {
			passes = append(passes, [2]float64{s, best})
		}
	}
	return passes
}
