package tally

import (
	"math"

	"parcours.example/analysis/race"
)

// withFrontMs is how near the front one is with it.
const withFrontMs = 5000

// split counts how many are with the front along the road. The edges are the start, with
// all entrants, and the posts.
type split struct {
	within  []moments
	kept    []int64 // how many each edge keeps, summed over runs
	crossed []int64 // sums of products of what two edges keep, by pairs
	largest []int32 // runs by the stretch that costs them most; those that lose nobody aside
	now     []int64 // work space: what each edge keeps in a run
}

func newSplit(posts int) split {
	edges := posts + 1
	return split{
		within: make([]moments, posts), kept: make([]int64, edges), crossed: make([]int64, edges*edges),
		largest: make([]int32, posts), now: make([]int64, edges),
	}
}

func (s *split) add(p Plan, r *race.Run) {
	s.now[0] = int64(p.Entrants)
	for k, post := range p.Posts {
		s.now[k+1] = withFront(crossings(r, post.Line, p.Entrants))
		s.within[k].addThousandths(1000 * s.now[k+1])
	}
	for k := len(s.now) - 2; k >= 0; k-- {
		s.now[k] = max(s.now[k], s.now[k+1])
	}
	most, at := int64(0), -1
	for k := range p.Posts {
		if lost := s.now[k] - s.now[k+1]; lost > most {
			most, at = lost, k
		}
	}
	if at >= 0 {
		s.largest[at]++
	}
	for a, n := range s.now {
		s.kept[a] += n
		for b, m := range s.now[a:] {
			s.crossed[a*len(s.now)+a+b] += n * m
		}
	}
}

// withFront counts who is with the front.
func withFront(crossings []float64) (n int64) {
	first := math.Inf(1)
	for _, s := range crossings {
		if s < first {
			first = s
		}
	}
	if math.IsInf(first, 1) {
		return 0
	}
	last := thousandths(first) + withFrontMs
	for _, s := range crossings {
		if !math.IsNaN(s) && thousandths(s) <= last {
			n++
		}
	}
	return n
}

func (s *split) merge(other *split) {
	for i := range s.within {
		s.within[i].merge(other.within[i])
	}
	addAll(s.kept, other.kept)
	addAll(s.crossed, other.crossed)
	addAll(s.largest, other.largest)
}

// difference returns the moments of what is lost between two edges.
func (s *split) difference(a, b, runs int) Mean {
	square := func(a, b int) int64 { return s.crossed[a*len(s.kept)+b] }
	lost := s.kept[a] - s.kept[b]
	m := moments{n: int64(runs), sum: 1000 * lost}
	m.hi, m.lo = 0, uint64(square(a, a)+square(b, b)-2*square(a, b))*1_000_000
	return m.mean()
}

// keeps returns the moments of what an edge keeps.
func (s *split) keeps(a, runs int) Mean {
	m := moments{n: int64(runs), sum: 1000 * s.kept[a], lo: uint64(s.crossed[a*len(s.kept)+a]) * 1_000_000}
	return m.mean()
}

func (s *split) result(p Plan, runs int) Split {
	out := Split{Posts: make([]AtPost, len(p.Posts))}
	for k, post := range p.Posts {
		out.Posts[k] = AtPost{
			AtM: post.AtM, Within: s.within[k].mean(), Lost: s.difference(k, k+1, runs), Largest: oddsIn(s.largest[k], runs),
		}
	}
	out.Decisive = s.decisive(p, runs)
	return out
}

func (s *split) decisive(p Plan, runs int) *Decisive {
	lost := func(k int) int64 { return s.kept[k] - s.kept[k+1] }
	most := 0
	for k := range p.Posts {
		if lost(k) > lost(most) {
			most = k
		}
	}
	if len(p.Posts) == 0 || lost(most) == 0 {
		return nil
	}
	from, to := most, most // stretches
	for from > 0 && 2*lost(from-1) >= lost(most) {
		from--
	}
	for to+1 < len(p.Posts) && 2*lost(to+1) >= lost(most) {
		to++
	}
	d := &Decisive{
		EndM: p.Posts[to].AtM, Before: s.keeps(from, runs), After: s.keeps(to+1, runs), Lost: s.difference(from, to+1, runs),
	}
	if from > 0 {
		d.StartM = p.Posts[from-1].AtM
	}
	own := int32(0)
	for _, n := range s.largest[from : to+1] {
		own += n
	}
	d.Largest = oddsIn(own, runs)
	return d
}
