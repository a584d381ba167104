package course

// runBlock is the number of samples that a block of a run index holds.
const runBlock = 64

// runIndex holds, by blocks of samples, which runs pass there, on either pass, in the
// order of the runs.
type runIndex [][]int32

// indexRuns returns the index of runs along a ground.
func indexRuns(g *ground, runs []*run) runIndex {
	index := make(runIndex, g.last()/runBlock+1)
	for id, r := range runs {
		from, last := r.from/runBlock, r.last()/runBlock
		to, end := int(r.to[0])/runBlock, int(r.to[len(r.to)-1])/runBlock
		for block := from; block <= end; block++ {
			if block > last && block < to {
				block = to
			}
			index[block] = append(index[block], int32(id))
		}
	}
	return index
}

// runsBy returns the runs that may pass a place, on either pass.
func (a *again) runsBy(x float64) []int32 {
	return a.index[min(max(int(x)/runBlock, 0), len(a.index)-1)]
}
