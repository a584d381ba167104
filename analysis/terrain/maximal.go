package terrain

// candidate is a stretch from node start to node end; low and high are the values
// of f there, and below is the index of the nearest candidate to its left with a
// lower low, −1 if none.
type candidate struct {
	start, end int
	low, high  float64
	below      int
}

// maximalStretches returns, in order, the node ranges [start, end] of the
// maximal-scoring stretches of a profile, where a stretch scores its gain less
// threshold times its length.
//
// Ruzzo WL, Tompa M (1999) A linear time algorithm for finding all maximal scoring
// subsequences. Proc. ISMB 7:234–241. Their scores are the pieces' here, and their
// cumulative sums are f(i) = z(i) − threshold·s(i), which needs no summing.
func maximalStretches(p profile, threshold float64) [][2]int {
	var list []candidate
	f := func(i int) float64 { return p.z[i] - float64(threshold*p.s[i]) }
	for i := 1; i < len(p.s); i++ {
		if low, high := f(i-1), f(i); high-low > 0 {
			list = integrate(list, candidate{start: i - 1, end: i, low: low, high: high})
		}
	}
	ranges := make([][2]int, len(list))
	for i, c := range list {
		ranges[i] = [2]int{c.start, c.end}
	}
	return ranges
}

// integrate appends a candidate to the list, merging as long as a wider stretch
// scores more (steps 1 to 4 of the paper).
func integrate(list []candidate, k candidate) []candidate {
	for {
		j := len(list) - 1
		for j >= 0 && list[j].low >= k.low-indifferenceM {
			j = list[j].below
		}
		k.below = j
		if j < 0 || list[j].high >= k.high-indifferenceM {
			return append(list, k)
		}
		k.start, k.low = list[j].start, list[j].low
		list = list[:j]
	}
}

// rises returns the stretches of a profile that are to be reported as climbs by
// the definition, in order.
func rises(p profile) []span {
	var found []span
	for _, r := range maximalStretches(p, climbThreshold) {
		length, gain := p.s[r[1]]-p.s[r[0]], p.z[r[1]]-p.z[r[0]]
		switch {
		case !scores(gain, length, climbThreshold):
		case gain >= minMeanGradient*length-indifferenceM:
			found = append(found, span{p.s[r[0]], p.s[r[1]]})
		default:
			found = append(found, steepRises(p, r)...)
		}
	}
	return found
}

// steepRises returns the climbs in a maximal stretch that is too gentle to be one.
func steepRises(p profile, r [2]int) []span {
	var found []span
	in := profile{s: p.s[r[0] : r[1]+1], z: p.z[r[0] : r[1]+1]}
	for _, q := range maximalStretches(in, minMeanGradient) {
		length, gain := in.s[q[1]]-in.s[q[0]], in.z[q[1]]-in.z[q[0]]
		if scores(gain, length, climbThreshold) {
			found = append(found, span{in.s[q[0]], in.s[q[1]]})
		}
	}
	return found
}

// innerRises returns the parts of the climb that is the whole of p: its steep ones,
// or else the rises, two or more, that a long flat or a dip parts.
func innerRises(p profile) []span {
	if steep := innerRisesOver(p, innerThreshold); len(steep) > 0 {
		return steep
	}
	if parted := innerRisesOver(p, partedThreshold); len(parted) > 1 {
		return parted
	}
	return nil
}

func innerRisesOver(p profile, threshold float64) []span {
	var found []span
	whole := p.z[len(p.z)-1] - p.z[0]
	for _, r := range maximalStretches(p, threshold) {
		length, gain := p.s[r[1]]-p.s[r[0]], p.z[r[1]]-p.z[r[0]]
		if scores(gain, length, threshold) &&
			length <= innerMaxLength*p.lengthM() && gain >= innerMinGain*whole-indifferenceM {
			found = append(found, span{p.s[r[0]], p.s[r[1]]})
		}
	}
	return found
}

func scores(gain, length, threshold float64) bool {
	return gain-float64(threshold*length) >= minScoreM-indifferenceM
}
