package plan

import (
	"math"
	"slices"
	"sort"
)

// section is a part of the road that is cut into steps.
type section struct {
	Place
	// edgesM are the bounds of the places in it, in order.
	edgesM []float64
}

// group is one section, or laps that are ridden alike and share their steps.
type group []section

const (
	// sameLapShare is how much laps may differ in length to be ridden alike.
	sameLapShare = 0.01
	// lapCells is the number of stretches by which laps are compared.
	lapCells = 100
	// lapFee is the share of the time that a lap of its own must gain.
	lapFee = 3e-4
)

// sections returns the parts, in order and without gap over the road's length, with the
// bounds of the places in them.
func sections(places []Place, lengthM float64) []section {
	bounds := []float64{0, lengthM}
	for _, p := range places {
		if p.Of == OfPart {
			bounds = append(bounds, math.Round(p.StartM), math.Round(p.EndM))
		}
	}
	bounds = distinct(bounds, lengthM)
	if len(bounds) == 1 {
		bounds = append(bounds, lengthM)
	}
	all := make([]section, len(bounds)-1)
	for i := range all {
		from, to := bounds[i], bounds[i+1]
		all[i].Place = Place{Of: OfPart, Kind: kindWhole, StartM: from, EndM: to}
		for _, p := range places {
			switch {
			case p.Of == OfPart && p.StartM <= from+2*sameM && p.EndM >= to-2*sameM:
				all[i].Place = p
				all[i].StartM, all[i].EndM = from, to
			case p.Of != OfPart:
				all[i].edgesM = append(all[i].edgesM, inside(p.StartM, from, to)...)
				all[i].edgesM = append(all[i].edgesM, inside(p.EndM, from, to)...)
			}
		}
		all[i].edgesM = distinct(all[i].edgesM, lengthM)
	}
	return all
}

// sameM is the distance within which two bounds are one.
const sameM = 1.0

// distinct sorts positions on the road and keeps one of those that are the same.
func distinct(atM []float64, lengthM float64) []float64 {
	sort.Float64s(atM)
	kept := atM[:0]
	for _, m := range atM {
		if m >= 0 && m <= lengthM && (len(kept) == 0 || m > kept[len(kept)-1]+sameM) {
			kept = append(kept, m)
		}
	}
	if n := len(kept); n > 1 && lengthM-kept[n-1] <= sameM {
		kept[n-1] = lengthM
	}
	return kept
}

func inside(m, from, to float64) []float64 {
	if m > from+sameM && m < to-sameM {
		return []float64{m}
	}
	return nil
}

// groups gathers laps that are ridden alike: laps in a row are parted where holding the
// same power on the same ground in all of them costs more than a lap of its own is
// allowed to.
func (l *loss) groups(sections []section) []group {
	var all []group
	for len(sections) > 0 {
		n := 1
		for n < len(sections) && sections[0].Kind == kindLap && alikeInLength(sections[0], sections[n]) {
			n++
		}
		all = append(all, l.parted(sections[:n])...)
		sections = sections[n:]
	}
	return all
}

func alikeInLength(a, b section) bool {
	return b.Kind == kindLap && math.Abs((b.EndM-b.StartM)/(a.EndM-a.StartM)-1) <= sameLapShare
}

// parted cuts laps of equal length into runs, by dynamic programming.
func (l *loss) parted(laps []section) []group {
	n := len(laps)
	if n == 1 {
		return []group{{laps[0]}}
	}
	fee := lapFee * l.sums[len(l.sums)-1].timeS
	upTo := make([][]lossSum, n+1) // of each cell, over the laps before
	upTo[0] = make([]lossSum, lapCells)
	for i, lap := range laps {
		upTo[i+1] = slices.Clone(upTo[i])
		before := l.to(lap.StartM)
		for c := range lapCells {
			next := l.to(lap.at(float64(c+1) / lapCells))
			upTo[i+1][c] = upTo[i+1][c].plus(next, 1).plus(before, -1)
			before = next
		}
	}
	best := make([]cut, n+1)
	for j := 1; j <= n; j++ {
		best[j].cost = math.Inf(1)
		for i := range j {
			cost := best[i].cost + fee
			for c := range lapCells {
				cost += l.cost(upTo[j][c].plus(upTo[i][c], -1), l.most)
			}
			if cost < best[j].cost {
				best[j] = cut{cost, i}
			}
		}
	}
	var runs []group
	for j := n; j > 0; j = best[j].from {
		runs = append(runs, group(laps[best[j].from:j]))
	}
	slices.Reverse(runs)
	return runs
}

// at is the position at a share of the section.
func (s section) at(share float64) float64 {
	return s.StartM + float64((s.EndM-s.StartM)*share)
}

const (
	// edgesInAll is about how many edges a part has where nothing is to be seen, edgeM
	// their least distance.
	edgesInAll, edgeM = 150, 20.0
	// startEdgeM is the distance of edges in the first metres, startM, of a ride.
	startEdgeM, startM = 10.0, 120.0
	// snapM is how far the bound of the same place may lie from its share on another lap.
	snapM = 40.0
)

// edges returns the places where steps of a group may start, those that can be seen and
// others at even distance between them.
func (l *loss) edges(g group) []edge {
	first := g[0]
	length := first.EndM - first.StartM
	step := max(edgeM, length/edgesInAll)
	var all []edge
	from := first.StartM
	for _, to := range append(slices.Clone(first.edgesM), first.EndM) {
		if from == 0 {
			for at := startEdgeM; at < min(startM, to-startEdgeM); at += startEdgeM {
				all = append(all, edge{share: at / length})
				from = at
			}
		}
		n := max(int((to-from)/step), 1)
		for k := 1; k < n; k++ {
			all = append(all, edge{share: (from + float64((to-from)*float64(k))/float64(n) - first.StartM) / length})
		}
		all = append(all, edge{share: (to - first.StartM) / length, seen: true})
		from = to
	}
	all = append([]edge{{seen: true, starts: first.StartM == 0}}, all...)
	all[len(all)-1].share = 1
	for i := range all {
		all[i].limitW = l.most
	}
	for _, lap := range g {
		start := l.to(lap.StartM)
		for i := range all {
			at := lap.edgeM(all[i])
			all[i].sum = all[i].sum.plus(l.to(at), 1).plus(start, -1)
			all[i].limitW = min(all[i].limitW, l.limitAt(at))
		}
	}
	return all
}

// edgeM is where an edge of the group is on this lap, to the metre: at the same share, or
// the bound of a place near it.
func (s section) edgeM(e edge) float64 {
	at := s.at(e.share)
	if !e.seen || e.share == 0 || e.share == 1 {
		return min(max(math.Round(at), s.StartM), s.EndM)
	}
	i := sort.SearchFloat64s(s.edgesM, at)
	best, off := at, snapM
	for _, k := range []int{i - 1, i} {
		if k >= 0 && k < len(s.edgesM) && math.Abs(s.edgesM[k]-at) < off {
			best, off = s.edgesM[k], math.Abs(s.edgesM[k]-at)
		}
	}
	return math.Round(best)
}
