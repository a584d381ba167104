package coursegen

import (
	"math"
	"math/rand/v2"
)

// loops are closed roads that start with the same stretch of road and come back to
// its start on either side.
type loops struct {
	shared path
	ways   [2]path
}

// loopsOver draws two loops of about a length in metres and of ratio times that.
func loopsOver(rng *rand.Rand, lengthM, ratio float64) loops {
	u := lengthM * min(ratio, 1) / 10
	end := point{E: u * between(rng, 0.8, 2)}
	l := loops{shared: path{{}, end}.even()}
	for i, side := range []float64{1, -1} {
		want, bulge := lengthM*[]float64{1, ratio}[i]-end.E, between(rng, 0.3, 0.8)
		l.ways[i] = wayBack(end, side*sizeOfWay(end, bulge, want), bulge)
	}
	turn := between(rng, 0, 2*math.Pi)
	l.shared = l.shared.moved(turn, point{})
	for i := range l.ways {
		l.ways[i] = l.ways[i].moved(turn, point{})
	}
	return l
}

// lap returns one of the loops, from the start of the shared road.
func (l loops) lap(i int) path { return join(l.shared, l.ways[i]) }

// wider returns a third loop, which goes round the first.
func (l loops) wider(rng *rand.Rand) path {
	f := between(rng, 1.7, 2.2)
	end := l.shared[len(l.shared)-1]
	way := l.ways[0].scaled(l.ways[0].lengthM() * f)
	// It leaves the shared road straight on and comes to it from straight behind.
	gap := point{E: end.E * (f - 1) / 2, N: end.N * (f - 1) / 2}
	way = way.moved(0, point{E: -gap.E, N: -gap.N})
	return join(l.shared, path{end, way[0]}.even(), way, path{way[len(way)-1], {}}.even())
}

// wayBack returns a smooth road from a place on the east axis to the origin that goes
// out by size metres to one side, positive to the left, and bulges at its ends.
func wayBack(from point, size, bulge float64) path {
	w := math.Abs(size) * bulge
	return spline(
		from, point{E: from.E + w, N: size * 0.3}, point{E: from.E + w/2, N: size}, point{E: from.E / 2, N: size * 1.15},
		point{E: -w / 2, N: size}, point{E: -w, N: size * 0.3}, point{},
	)
}

// sizeOfWay returns the size that makes a way back about as long as wanted, in metres.
func sizeOfWay(from point, bulge, lengthM float64) float64 {
	lo, hi := 0.0, lengthM
	for range 40 {
		if mid := (lo + hi) / 2; wayBack(from, mid, bulge).lengthM() < lengthM {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}
