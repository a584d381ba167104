package coursegen

import (
	"math"
	"math/rand/v2"
)

// drawEight returns laps of a circuit that crosses itself or shares a road.
func drawEight(rng *rand.Rand) layout {
	n := 2 + rng.IntN(9)
	length := logBetween(rng, 2000, min(30000, 100000/float64(n)))
	var road path
	switch rng.IntN(4) {
	case 0:
		road = sharedRoad(rng, length)
	case 1:
		road = dumbbell(rng, length)
	default:
		road = lemniscate(rng, length)
	}
	return laps(nil, road.from(rng.IntN(len(road)-1)), n, nil)
}

// lemniscate is x = sin t, y = q·sin 2t, which crosses itself at an angle of
// 2·atan 2q: 15° to 110°.
func lemniscate(rng *rand.Rand, lengthM float64) path {
	q := math.Tan(between(rng, 15, 110)*math.Pi/360) / 2
	lean := between(rng, -0.2, 0.2)
	p := curve(4000, func(t float64) point {
		x := math.Sin(2 * math.Pi * t)
		return point{E: x * (1 + float64(lean*x)), N: q * math.Sin(4*math.Pi*t)}
	})
	p[len(p)-1] = p[0]
	return p.scaled(lengthM).moved(between(rng, 0, 2*math.Pi), point{})
}

// sharedRoad is a lap of two loops of different shape that ride one road in the
// same direction.
func sharedRoad(rng *rand.Rand, lengthM float64) path {
	u := lengthM / 10
	p, q := point{}, point{E: u, N: 0}
	loop := func(side float64) path {
		w, h := u*between(rng, 0.4, 1.2), u*side*between(rng, 0.9, 2)
		return spline(q, point{E: u + w, N: h * 0.3}, point{E: u + w/2, N: h}, point{E: u / 2, N: h * 1.15}, point{E: -w / 2, N: h}, point{E: -w, N: h * 0.3}, p)
	}
	lap := join(path{p, q}, loop(1), path{p, q}, loop(-1))
	return lap.scaled(lengthM).moved(between(rng, 0, 2*math.Pi), point{})
}

// dumbbell is a lap of two loops at the ends of a road that is ridden both ways.
func dumbbell(rng *rand.Rand, lengthM float64) path {
	u := lengthM / 10
	p, q := point{}, point{E: u * between(rng, 0.5, 2), N: 0}
	lap := join(path{p, q}, turningLoop(rng, q, u), path{q, p}, turningLoop(rng, p, -u))
	return lap.scaled(lengthM).moved(between(rng, 0, 2*math.Pi), point{})
}

// turningLoop is a closed road from a place that bulges to the east by about w
// metres, to the west where w is negative.
func turningLoop(rng *rand.Rand, at point, w float64) path {
	h := math.Abs(w) * between(rng, 0.5, 1)
	w *= between(rng, 0.8, 1.6)
	e := at.E
	return spline(at, point{E: e + w*0.5, N: h * 0.7}, point{E: e + w, N: h * 0.6}, point{E: e + w*1.2, N: 0}, point{E: e + w, N: -h * 0.6}, point{E: e + w*0.5, N: -h * 0.7}, at)
}
