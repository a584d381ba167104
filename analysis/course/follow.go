package course

import (
	"math"
	"slices"
	"sort"
)

// Two passes of the same road lie apart by the noise of both. With 8 m on each
// axis and pass that is 11 m across the road, 40 m beyond three and a half
// standard deviations; coarse sampling cuts corners by as much.
const (
	// toleranceM is how far apart two passes of the same ground may lie.
	toleranceM = 40.0
	// sameDirection is the cosine of the widest angle, 50°, between them.
	sameDirection = 0.6428
	// maxLostM is how far a run may go on beyond the tolerance, or in another
	// direction, and be found again.
	maxLostM = 400.0
	// maxApartM is how far it may go on beyond twice the tolerance: that is another
	// road.
	maxApartM = 80.0
	// maxTrimM is how much of a run's ends may be cut for coming together there.
	maxTrimM = 100.0
	// joinedDirection is the cosine of 30°, joiningSlope the metres per metre by
	// which roads come together that are not yet one.
	joinedDirection = 0.866
	joiningSlope    = 0.3
)

// pair says that sample i lies at place j of the other pass, d metres from it.
type pair struct {
	i    int
	j, d float64
}

// run is a stretch of samples, each with its place on the line that runs along it.
// The places never decrease.
type run struct {
	from int
	to   []float64
	// apart are the distances between the passes in metres.
	apart []float64
}

// newRun joins what was found backward and forward from a seed.
func newRun(back []pair, seed pair, ahead []pair) *run {
	n := len(back) + 1 + len(ahead)
	r := &run{from: seed.i - len(back), to: make([]float64, 0, n), apart: make([]float64, 0, n)}
	slices.Reverse(back)
	for _, pairs := range [][]pair{back, {seed}, ahead} {
		for _, p := range pairs {
			r.to = append(r.to, p.j)
			r.apart = append(r.apart, p.d)
		}
	}
	return r
}

// last returns the last sample of the run.
func (r *run) last() int { return r.from + len(r.to) - 1 }

// image returns the place that x lies at on the other pass. Beyond its ends the
// run goes on in step.
func (r *run) image(x float64) float64 {
	k := x - float64(r.from)
	if k <= 0 {
		return r.to[0] + k
	}
	i := int(k)
	if i >= len(r.to)-1 {
		return r.to[len(r.to)-1] + k - float64(len(r.to)-1)
	}
	return r.to[i] + float64((k-float64(i))*(r.to[i+1]-r.to[i]))
}

// origin is the inverse of image.
func (r *run) origin(y float64) float64 {
	i := sort.SearchFloat64s(r.to, y)
	if i == 0 {
		return float64(r.from) + y - r.to[0]
	}
	if i == len(r.to) {
		return float64(r.last()) + y - r.to[i-1]
	}
	if r.to[i] == y { // also where the place stays the same from sample to sample
		return float64(r.from + i)
	}
	return float64(r.from+i) - (r.to[i]-y)/(r.to[i]-r.to[i-1])
}

// meanApart returns the mean distance between the passes in metres.
func (r *run) meanApart() float64 {
	sum := 0.0
	for _, d := range r.apart {
		sum += d
	}
	return sum / float64(len(r.apart))
}

// trim cuts the ends at which the passes only come together or part: where the way
// between them narrows quickly, or the directions differ by more than noise makes
// them. Ends that lie apart by noise stay.
func (r *run) trim(g *ground) *run {
	most := int(g.steps(maxTrimM))
	first, last := 0, len(r.apart)-1
	for first < min(most, last) && r.joins(g, first, 1) {
		first++
	}
	for last > max(len(r.apart)-1-most, first) && r.joins(g, last, -1) {
		last--
	}
	return &run{from: r.from + first, to: r.to[first : last+1], apart: r.apart[first : last+1]}
}

// joins reports whether the passes still come together at the k-th sample, seen in
// a direction along the run.
func (r *run) joins(g *ground, k, way int) bool {
	const ahead = 3
	other := min(max(int(math.Round(r.to[k])), 0), g.last())
	if g.dir[r.from+k].Dot(g.dir[other]) < joinedDirection {
		return true
	}
	next := min(max(k+ahead*way, 0), len(r.apart)-1)
	return r.apart[k]-r.apart[next] > joiningSlope*ahead*g.step
}

// follow walks along line a from the sample beside seed.i to sample end, forward or
// backward, and keeps beside it on line b, never turning round there. It returns
// the pairs up to where the lines part for good.
func follow(a, b *ground, seed pair, end int) []pair {
	var pairs []pair
	good := seed
	lost, apart := 0.0, 0.0
	way := 1
	if end < seed.i {
		way = -1
	}
	for i := seed.i + way; (end-i)*way >= 0; i += way {
		p, near := beside(a, b, i, good, way)
		if a == b && math.Abs(p.j-float64(p.i)) < a.steps(minAgainM)/2 {
			break // the line meets itself: this is one pass, not two
		}
		if p.d <= toleranceM {
			pairs = bridge(pairs, good, p, way)
			good, lost, apart = p, 0, 0
			continue
		}
		lost += a.step
		if near > 2*toleranceM {
			apart += a.step
		}
		if lost > maxLostM || apart > maxApartM {
			break
		}
	}
	return pairs
}

// beside looks where sample i of a lies on b, knowing the last good pair. It
// returns the nearest place in the same direction, at infinity if there is none,
// and the distance of the nearest place in any direction.
func beside(a, b *ground, i int, good pair, way int) (p pair, near float64) {
	gone := math.Abs(float64(i - good.i))
	lo, hi := good.j+max(0, float64(gone/2)-2), good.j+float64(1.5*gone)+2
	if way < 0 {
		lo, hi = good.j-float64(1.5*gone)-2, good.j-max(0, float64(gone/2)-2)
	}
	best, square, nearest := -1, math.Inf(1), math.Inf(1)
	for j := max(int(math.Ceil(lo)), 0); j <= min(int(hi), b.last()); j++ {
		d := b.pos[j].Sub(a.pos[i])
		s := d.Dot(d)
		nearest = min(nearest, s)
		if s < square && a.dir[i].Dot(b.dir[j]) > sameDirection {
			best, square = j, s
		}
	}
	if best < 0 {
		return pair{i: i, d: math.Inf(1)}, math.Sqrt(nearest)
	}
	x, dist := b.project(a.pos[i], best)
	if way > 0 {
		x = max(x, good.j)
	} else {
		x = min(x, good.j)
	}
	return pair{i: i, j: x, d: dist}, math.Sqrt(nearest)
}

// bridge appends p and, before it, the samples since the last good pair, their
// places in proportion.
func bridge(pairs []pair, good, p pair, way int) []pair {
	gap := float64(p.i - good.i)
	for i := good.i + way; i != p.i; i += way {
		f := float64(i-good.i) / gap
		pairs = append(pairs, pair{i: i, j: good.j + float64(f*(p.j-good.j)), d: toleranceM})
	}
	return append(pairs, p)
}
