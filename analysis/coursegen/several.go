package coursegen

import (
	"math"
	"math/rand/v2"
)

// drawLollipopLaps goes out, round a loop for laps, and back.
func drawLollipopLaps(rng *rand.Rand) layout {
	n, c := randomCircuit(rng)
	stem := c.approach(rng, logBetween(rng, 300, 5000), 0)
	return laps(stem, c.road(), n, stem.reversed())
}

// drawShuttle goes there and back, from one end of the road, from within it, or from
// farther out.
func drawShuttle(rng *rand.Rand) layout {
	n := 2 + rng.IntN(7)
	road := winding(rng, logBetween(rng, 800, min(15000, 55000/float64(n))), between(rng, 0, 2*math.Pi))
	var lead path
	lap := join(road, road.reversed())
	switch rng.IntN(3) {
	case 0:
		lap = lap.from(rng.IntN(len(lap) - 1))
	case 1:
		k := len(road) / 4
		lead, road = road[:k+1], road[k:]
		lap = join(road, road.reversed())
	}
	return laps(lead, lap, n, nil)
}

// drawTwoCircuits rides laps of two circuits that meet in one place, share a road, or
// are apart.
func drawTwoCircuits(rng *rand.Rand) layout {
	n, m, length, other := twoLaps(rng)
	a, b := randomStar(rng, length), randomStar(rng, other)
	switch rng.IntN(3) {
	case 0:
		road := a.road()
		return tour(maybeFraction(rng, road), leg{road, n}, leg{touching(rng, a, b), m})
	case 1:
		loops := loopsOver(rng, length, other/length)
		k := rng.IntN(len(loops.shared) - 1)
		first, second := loops.lap(0).from(k), loops.lap(1).from(k)
		return tour(maybeFraction(rng, first), leg{first, n}, leg{second, m})
	}
	return apartCircuits(rng, a, b, n, m)
}

// twoLaps draws the laps of two circuits and their lengths in metres, of which one
// clearly covers more than the other.
func twoLaps(rng *rand.Rand) (n, m int, length, other float64) {
	for {
		n, m = 2+rng.IntN(7), 2+rng.IntN(7)
		length, other = logBetween(rng, 1000, min(20000, 30000/float64(n))), logBetween(rng, 1000, min(20000, 30000/float64(m)))
		if ratio := float64(n) * length / (float64(m) * other); ratio > 1.25 || ratio < 0.8 {
			return n, m, length, other
		}
	}
}

// maybeFraction is the last part of a closed road in one case of three: the course
// then starts elsewhere than at its line.
func maybeFraction(rng *rand.Rand, road path) leg {
	if rng.IntN(3) > 0 {
		return once(nil)
	}
	return once(road[int(between(rng, 0.2, 0.9)*float64(len(road))):])
}

// touching returns the road of circuit b, moved to where its start lies on the start of
// a's road. It lies outside a, crosses its road there by up to 45°, and is ridden the
// other way round, so that nobody has to turn back.
func touching(rng *rand.Rand, a, b star) path {
	b.clockwise = !a.clockwise
	meet, turn := a.at(0, 0), math.Pi+between(rng, -math.Pi/4, math.Pi/4)
	start := path{b.at(0, 0)}.moved(turn, point{})[0]
	road := b.road().moved(turn, point{E: meet.E - start.E, N: meet.N - start.N})
	road[0], road[len(road)-1] = meet, meet
	return road
}

// apartCircuits leaves circuit a after a part of a lap and goes over to circuit b,
// which it may leave in the end.
func apartCircuits(rng *rand.Rand, a, b star, n, m int) layout {
	road, second := a.road(), b.road()
	var lead path
	if rng.IntN(2) == 0 {
		lead = a.approach(rng, logBetween(rng, 200, 5000), 0)
	}
	leave := int(between(rng, 0.2, 0.8) * float64(len(road)-1))
	theta := a.angleOf(road[leave])
	out := a.approach(rng, logBetween(rng, 300, 3000), theta).reversed()
	out[0] = road[leave]
	// Circuit b lies beyond, where its own approach goes on from there.
	in := b.approach(rng, logBetween(rng, 300, 3000), 0)
	turn, end := theta+math.Pi, out[len(out)-1]
	first := path{in[0]}.moved(turn, point{})[0]
	by := point{E: end.E - first.E, N: end.N - first.N}
	in, second = in.moved(turn, by), second.moved(turn, by)
	transfer := join(road[:leave+1], out, in)
	if rng.IntN(2) == 0 {
		// The line of b is where it ends, elsewhere than where it is joined.
		part := int(between(rng, 0.1, 0.85) * float64(len(second)))
		return tour(once(lead), leg{road, n}, once(join(transfer, second[:part+1])), leg{second.from(part), m})
	}
	part := int(between(rng, 0.2, 0.8) * float64(len(second)-1))
	home := b.approach(rng, logBetween(rng, 300, 5000), b.angleOf(b.road()[part])).reversed().moved(turn, by)
	home[0] = second[part]
	return tour(once(lead), leg{road, n}, once(transfer), leg{second, m}, once(join(second[:part+1], home)))
}

// drawNested has a circuit and a small one that cuts it short.
func drawNested(rng *rand.Rand) layout {
	for {
		n, m := 2+rng.IntN(5), 2+rng.IntN(6)
		big := randomStar(rng, logBetween(rng, 3000, 36000/float64(n))).road()
		cut := int(between(rng, 0.3, 0.6) * float64(len(big)-1))
		small := join(big[:cut+1], path{big[cut], big[0]}.even())
		ratio := float64(n*len(big)) / float64(m*len(small))
		if ratio < 1.25 && ratio > 0.8 {
			continue
		}
		switch rng.IntN(3) {
		case 0:
			return tour(maybeFraction(rng, big), leg{big, n}, leg{small, m})
		case 1:
			return tour(leg{small, m}, leg{big, n})
		}
		return laps(nil, join(big, small.repeated(1+rng.IntN(2))), n, nil)
	}
}

// drawAlternating has laps of two loops each.
func drawAlternating(rng *rand.Rand) layout {
	n := 2 + rng.IntN(5)
	length := logBetween(rng, 1000, min(20000, 25000/float64(n)))
	other := length * logBetween(rng, 0.5, 2)
	if rng.IntN(2) == 0 {
		loops := loopsOver(rng, length, other/length)
		k := rng.IntN(len(loops.shared) - 1)
		return laps(nil, join(loops.lap(0).from(k), loops.lap(1).from(k)), n, nil)
	}
	a, b := randomStar(rng, length), randomStar(rng, other)
	return laps(nil, join(a.road(), touching(rng, a, b)), n, nil)
}

// drawBothWays rides a circuit in one direction and then in the other.
func drawBothWays(rng *rand.Rand) layout {
	n := 2 + rng.IntN(4)
	m := n
	if rng.IntN(2) == 0 {
		m = 2 + rng.IntN(4)
	}
	road := randomStar(rng, logBetween(rng, 1000, 25000/float64(max(n, m)))).road()
	return tour(leg{road, n}, leg{road.reversed(), m})
}

// drawTwoSides rides a road once each way, with a loop at either end.
func drawTwoSides(rng *rand.Rand) layout {
	road := dumbbell(rng, logBetween(rng, 5000, 30000))
	return layout{path: road.from(rng.IntN(len(road) - 1)), shape: "circuit"}
}

// drawRepeated rides one road several times and comes back by different ways.
func drawRepeated(rng *rand.Rand) layout {
	loops := loopsOver(rng, logBetween(rng, 4000, 20000), between(rng, 0.7, 1.5))
	lo := layout{path: join(loops.lap(0), loops.lap(1)), shape: "circuit"}
	shared := len(loops.shared) - 1
	again := len(loops.lap(0)) - 1
	lo.repeats = [][4]int{{0, shared, again, again + shared}}
	if rng.IntN(2) == 0 {
		third := len(lo.path) - 1
		lo.path = join(lo.path, loops.wider(rng))
		lo.repeats = append(lo.repeats, [4]int{again, again + shared, third, third + shared})
	}
	return lo
}
