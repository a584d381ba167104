package course

import (
	"context"
	"math"
	"slices"
)

const (
	// minAgainM is the least distance in metres after which ground counts as
	// ridden again; on shorter ways nobody gets back in the same direction.
	minAgainM = 200.0
	// minRunM is the least length of a run that is kept.
	minRunM = 100.0
	// maxMeanApartM is the widest mean distance between the passes of a run: beyond
	// it they are neighbouring roads.
	maxMeanApartM = 30.0
	// seedStepM is the distance in metres from one sample that is looked at to the next:
	// each run that is kept holds two of them, and is followed both ways from there.
	seedStepM = minRunM / 2
	// laterPasses is how many passes to come are looked up for each sample; runs
	// found elsewhere are followed through all the others.
	laterPasses = 4
	// seedsPerCell bounds the samples looked at in one cell, for courses that stay
	// in one place.
	seedsPerCell = 64
	// seedsBetweenLooks is how many of them are followed between two looks at the context.
	seedsBetweenLooks = 64
	// followBudget bounds the samples followed, as a multiple of all samples.
	followBudget = 20
)

// matcher finds the runs of a ground along itself.
type matcher struct {
	g    *ground
	grid *grid
	runs []*run
	// active are the runs that go on, kept or not; recent those of runs that may still be
	// found again.
	active, recent []*run
	budget         int
	// found and pairs are reused for the candidates of one sample.
	found []int
	pairs []pair
}

// findRuns returns the stretches of the ground that are ridden again in the same
// direction, in the order in which they are met. Time and memory are bounded by a
// multiple of the number of samples.
func findRuns(ctx context.Context, g *ground, gr *grid) ([]*run, error) {
	m := &matcher{g: g, grid: gr, budget: followBudget * len(g.pos)}
	stride := max(1, int(g.steps(seedStepM)))
	over := int(math.Ceil(g.steps(maxTrimM)))
	for k, i := 0, 0; i < len(g.pos); k, i = k+1, i+stride {
		if k%seedsBetweenLooks == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		m.active = slices.DeleteFunc(m.active, func(r *run) bool { return r.last() < i })
		m.recent = slices.DeleteFunc(m.recent, func(r *run) bool { return r.last()+over < i })
		for _, p := range m.candidates(i) {
			if !m.covered(p) && m.budget > 0 {
				m.grow(p)
			}
		}
	}
	return m.runs, nil
}

// candidates returns for sample i its nearest place on each of the next passes. They
// hold until the next call.
func (m *matcher) candidates(i int) []pair {
	m.gather(i)
	m.pairs = m.pairs[:0]
	for k := 0; k < len(m.found) && len(m.pairs) < laterPasses; {
		best, square := 0, math.Inf(1)
		start := k
		for ; k < len(m.found) && (k == start || m.found[k]-m.found[k-1] <= 4); k++ {
			d := m.g.pos[m.found[k]].Sub(m.g.pos[i])
			if s := d.Dot(d); s < square {
				best, square = m.found[k], s
			}
		}
		x, d := m.g.project(m.g.pos[i], best)
		m.pairs = append(m.pairs, pair{i: i, j: x, d: d})
	}
	return m.pairs
}

// gather collects in order the later samples within the tolerance of sample i that
// run in its direction.
func (m *matcher) gather(i int) {
	m.found = m.found[:0]
	from := i + int(math.Ceil(m.g.steps(minAgainM)))
	key := m.grid.key(m.g.pos[i])
	for east := key[0] - 1; east <= key[0]+1; east++ {
		for north := key[1] - 1; north <= key[1]+1; north++ {
			items := m.grid.later([2]int32{east, north}, from)
			for _, j := range items[:min(len(items), seedsPerCell)] {
				d := m.g.pos[j].Sub(m.g.pos[i])
				if d.Dot(d) <= toleranceM*toleranceM && m.g.dir[i].Dot(m.g.dir[j]) > sameDirection {
					m.found = append(m.found, int(j))
				}
			}
		}
	}
	slices.Sort(m.found)
}

// covered reports whether a run that has been found already holds the pair.
func (m *matcher) covered(p pair) bool {
	return slices.ContainsFunc(m.active, func(r *run) bool {
		return p.i >= r.from && math.Abs(r.image(float64(p.i))-p.j) <= m.g.steps(2*toleranceM)
	})
}

// grow follows the line both ways from a seed and keeps the run if it is long
// enough and close enough. A run that is not kept stays active, so that it isn't
// tried from each of its samples.
func (m *matcher) grow(seed pair) {
	r := newRun(follow(m.g, m.g, seed, 0), seed, follow(m.g, m.g, seed, m.g.last()))
	m.budget -= len(r.to) + int(m.g.steps(2*maxLostM))
	m.active = append(m.active, r)
	long := m.g.steps(minRunM)
	if r = r.trim(m.g); float64(r.last()-r.from) < long || r.to[len(r.to)-1]-r.to[0] < long {
		return
	}
	if r.meanApart() <= maxMeanApartM && !m.known(r) {
		m.runs, m.recent = append(m.runs, r), append(m.recent, r)
	}
}

// known reports whether a run was found before, from another seed.
func (m *matcher) known(r *run) bool {
	return slices.ContainsFunc(m.recent, func(k *run) bool {
		return r.from >= k.from && r.last() <= k.last() &&
			math.Abs(k.image(float64(r.from))-r.to[0]) < m.g.steps(toleranceM) &&
			math.Abs(k.image(float64(r.last()))-r.to[len(r.to)-1]) < m.g.steps(toleranceM)
	})
}
