package terrain

import "math"

// sections cuts a climb into stretches of nearly constant gradient, as a rider
// would tell them.
//
// With the boundaries b0 < b1 < … < bk at nodes, each section has the mean
// gradient of its ends (so the told profile meets the real one at every boundary)
// and leaves unexplained
//
//	cost(a, b) = ∫ (z′ − mean)² ds = ∫ z′² ds − (z(b) − z(a))²/(b − a)
//
// in metres. The boundaries minimise Σ cost + penalty·k over all k ≤ maxSections
// and all sections of the least length: penalised change-points solved exactly by
// dynamic programming (optimal partitioning, Killick, Fearnhead & Eckley 2012, J.
// Am. Stat. Assoc. 107:1590–1598), here with the number of sections as a second
// index because it is bounded. On climbs of more than sectionNodes nodes the
// boundaries are sought among a thinned set and then moved to the best node near.
func sections(p profile, window float64) []Stretch {
	least := max(minSectionM, minSectionShare*p.lengthM(), window)
	cost := newSectionCost(p)
	bounds := partition(cost, thinned(p), least)
	if len(p.s) > sectionNodes {
		refine(cost, bounds, least)
	}
	told := make([]Stretch, 0, len(bounds)-1)
	for k := 1; k < len(bounds); k++ {
		told = append(told, stretch(p, span{p.s[bounds[k-1]], p.s[bounds[k]]}, window))
	}
	return told
}

// sectionCost gives the cost of any section in constant time.
type sectionCost struct {
	profile
	// square is the integral of the squared gradient up to each node.
	square []float64
}

func newSectionCost(p profile) sectionCost {
	c := sectionCost{profile: p, square: make([]float64, len(p.s))}
	for i := 1; i < len(p.s); i++ {
		dz := p.z[i] - p.z[i-1]
		c.square[i] = c.square[i-1] + float64(dz*dz/(p.s[i]-p.s[i-1]))
	}
	return c
}

func (c sectionCost) of(a, b int) float64 {
	dz := c.z[b] - c.z[a]
	return c.square[b] - c.square[a] - float64(dz*dz/(c.s[b]-c.s[a]))
}

// thinned returns the indices of at most sectionNodes nodes, ends included, about
// equally spaced.
func thinned(p profile) []int {
	step := 0.0
	if len(p.s) > sectionNodes {
		step = p.lengthM() / (sectionNodes - 1)
	}
	keep := []int{0}
	last := len(p.s) - 1
	for i := 1; i < last; i++ {
		if p.s[i]-p.s[keep[len(keep)-1]] >= step {
			keep = append(keep, i)
		}
	}
	return append(keep, last)
}

// telling is the best way to cut the road up to a node into k+1 sections, for each
// k: what it leaves unexplained and where its last section starts.
type telling struct {
	cost [maxSections]float64
	from [maxSections]int
}

// partition returns the nodes that bound the optimal sections, both ends included.
func partition(cost sectionCost, nodes []int, least float64) []int {
	last := len(nodes) - 1
	best := make([]telling, len(nodes))
	for j := 1; j <= last; j++ {
		best[j] = bestTelling(cost, nodes, best, j, least)
	}
	whole := cost.of(nodes[0], nodes[last])
	// A climb shorter than the least section is one section all the same.
	best[last].cost[0] = whole
	penalty := max(sectionPenaltyM, sectionPenaltyShare*whole)
	k := 0
	for more := 1; more < maxSections; more++ {
		gain := best[last].cost[k] - best[last].cost[more]
		if gain > float64(penalty*float64(more-k))+1e-9 {
			k = more
		}
	}
	bounds := make([]int, k+2)
	for j := last; k >= 0; k-- {
		bounds[k+1] = nodes[j]
		j = best[j].from[k]
	}
	return bounds
}

// bestTelling extends the best tellings up to every earlier node by one section
// that ends at node j.
func bestTelling(cost sectionCost, nodes []int, best []telling, j int, least float64) telling {
	t := telling{}
	for k := range t.cost {
		t.cost[k] = math.Inf(1)
	}
	for i := 0; i < j && cost.s[nodes[j]]-cost.s[nodes[i]] >= least; i++ {
		c := cost.of(nodes[i], nodes[j])
		if i == 0 {
			t.cost[0] = c
			continue
		}
		for k := 1; k < maxSections; k++ {
			if sum := best[i].cost[k-1] + c; sum < t.cost[k]-1e-12 {
				t.cost[k], t.from[k] = sum, i
			}
		}
	}
	return t
}

// refine moves each inner boundary to the best node within one step of the thinned
// set, keeping the least length of the sections.
func refine(cost sectionCost, bounds []int, least float64) {
	reach := cost.lengthM() / (sectionNodes - 1)
	for k := 1; k < len(bounds)-1; k++ {
		lo, hi, old := bounds[k-1], bounds[k+1], bounds[k]
		best := cost.of(lo, old) + cost.of(old, hi)
		for i := lo + 1; i < hi; i++ {
			short := min(cost.s[i]-cost.s[lo], cost.s[hi]-cost.s[i]) < least
			if short || abs(cost.s[i]-cost.s[old]) > reach {
				continue
			}
			if c := cost.of(lo, i) + cost.of(i, hi); c < best-1e-12 {
				best, bounds[k] = c, i
			}
		}
	}
}
