package coursegen

import (
	"math"
	"math/rand/v2"
)

// drawLapFree returns a course that holds no lap.
func drawLapFree(rng *rand.Rand) layout {
	switch rng.IntN(7) {
	case 0, 1:
		return layout{path: streetWalk(rng, between(rng, 80, 250), 30+rng.IntN(150))}
	case 2: // one loop, 1.2 to 1.7 times
		road := randomStar(rng, logBetween(rng, 1000, 30000)).road()
		part := int(between(rng, 0.2, 0.7) * float64(len(road)))
		return layout{path: join(road, road[:part+1])}
	case 3: // one loop in each direction
		road := randomStar(rng, logBetween(rng, 1000, 30000)).road()
		return layout{path: join(road, road.reversed())}
	case 4:
		return layout{path: spiral(rng)}
	case 5:
		return layout{path: lissajous(rng)}
	}
	// Two loops of different shape that share a road, once each.
	return layout{path: sharedRoad(rng, logBetween(rng, 3000, 40000)), shape: "circuit"}
}

// spiral winds out with 60 to 150 m from turn to turn.
func spiral(rng *rand.Rand) path {
	gap, turns := between(rng, 60, 150), between(rng, 2, 8)
	p := curve(4000, func(t float64) point {
		sin, cos := math.Sincos(2 * math.Pi * turns * t)
		r := 60 + gap*turns*t
		return point{E: r * cos, N: r * sin}
	})
	return p.even()
}

// lissajous is x = sin(at + φ), y = sin bt with a and b coprime, once through, which
// crosses itself 2ab − a − b times. It would run back on itself at φ = k·π/2b with k
// odd where b − a is odd, else with k even; φ is drawn between those.
func lissajous(rng *rand.Rand) path {
	ratios := [...][2]int{{2, 3}, {3, 4}, {3, 5}, {4, 5}, {5, 6}}
	r := ratios[rng.IntN(len(ratios))]
	a, b := float64(r[0]), float64(r[1])
	phase := math.Pi / (2 * b) * (float64((r[1]-r[0]+1)%2) + between(rng, -0.6, 0.6))
	p := curve(8000, func(t float64) point {
		return point{E: math.Sin(2*math.Pi*a*t + phase), N: math.Sin(2 * math.Pi * b * t)}
	})
	return p.scaled(logBetween(rng, 15000, 60000))
}

// block is a crossing of the street grid.
type block struct{ e, n int }

// streetWalk walks along a number of blocks of a grid without turning round at a
// crossing and without riding any closed run again for more than half of it.
func streetWalk(rng *rand.Rand, blockM float64, blocks int) path {
	east, north := blockM, blockM*between(rng, 0.7, 1.5)
	walk := []block{{}, {1, 0}}
	for len(walk) <= blocks {
		next, ok := nextBlock(rng, walk)
		if !ok {
			break
		}
		walk = append(walk, next)
	}
	var p path
	for _, b := range walk {
		p = append(p, point{E: east * float64(b.e), N: north * float64(b.n)})
	}
	return p.moved(between(rng, 0, 2*math.Pi), point{}).even()
}

// nextBlock picks the next crossing among straight on, left and right.
func nextBlock(rng *rand.Rand, walk []block) (block, bool) {
	at, before := walk[len(walk)-1], walk[len(walk)-2]
	d := block{at.e - before.e, at.n - before.n}
	options := []block{{at.e + d.e, at.n + d.n}, {at.e - d.n, at.n + d.e}, {at.e + d.n, at.n - d.e}}
	for _, k := range rng.Perm(len(options)) {
		if !nearlyLaps(append(walk[:len(walk):len(walk)], options[k])) {
			return options[k], true
		}
	}
	return block{}, false
}

// nearlyLaps reports whether the walk's end repeats, for more than half of it, the
// closed run right before.
func nearlyLaps(walk []block) bool {
	last := len(walk) - 1
	for period := 4; period < last; period++ {
		same := 0
		for i := last; i-period >= 0 && walk[i] == walk[i-period]; i-- {
			same++
		}
		if same > 0 && 2*(same-1) > period {
			return true
		}
	}
	return false
}
