package coursegen

import (
	"math"
	"math/rand/v2"

	"parcours.example/analysis/geodesy"
)

// Kind is how a random course is built.
type Kind int

// The kinds of random courses. All lie anywhere between 60° S and 60° N. Lapped
// kinds have 2 to 12 laps of 1 to 40 km and are at most about 120 km long.
const (
	// Lapped starts and ends on the line of its circuit.
	Lapped Kind = iota
	// LeadIn comes to its circuit from up to 5 km outside and ends on the line,
	// which may lie anywhere on the circuit.
	LeadIn
	// RunOut rides its circuit from where it comes to it (or from the start), goes
	// on for a part of a lap and leaves it for up to 5 km.
	RunOut
	// Fraction starts on its circuit and ends on it elsewhere.
	Fraction
	// FigureEight has laps that cross themselves, at any angle down to 15°, or that
	// use a road twice, in the same or in opposite directions.
	FigureEight
	// OutAndBack turns round half way and comes back on the same road.
	OutAndBack
	// Lollipop goes out on a road, round a loop once, and back on the road.
	Lollipop
	// Circuit is a closed line ridden once, which may cross itself.
	Circuit
	// PointToPoint winds from one place to another.
	PointToPoint
	// LapFree looks as if it had laps, but has none: walks in a grid of streets, a
	// loop ridden 1.2 to 1.7 times or once in each direction, spirals, lines that
	// cross themselves many times, two loops that share a road.
	LapFree
	// LollipopLaps goes out on a road, round a loop several times, and back.
	LollipopLaps
	// Shuttle goes there and back on the same road several times.
	Shuttle
	// TwoCircuits rides laps of one circuit and then of another, which meets it in
	// one place, shares a road with it, or lies elsewhere.
	TwoCircuits
	// Nested rides laps of a circuit and laps of a small one that uses a part of its
	// road and cuts back through its inside: before, after, or in each of its laps.
	Nested
	// Alternating has laps of two loops each, one after the other, that meet in one
	// place or share a road.
	Alternating
	// BothWays rides laps of a circuit in one direction and then in the other.
	BothWays
	// TwoSides rides a hill's road once in each direction, with a loop at either end.
	TwoSides
	// Repeated rides one road two or three times in the same direction and comes back
	// to it by another way each time.
	Repeated
)

// kindNames are the names of the kinds, in their order.
var kindNames = [...]string{
	"lapped", "lead-in", "run-out", "fraction", "figure-eight", "out and back", "lollipop", "circuit", "point to point",
	"lap-free", "lollipop with laps", "shuttle", "two circuits", "nested", "alternating", "both ways", "two sides", "repeated",
}

// String returns the kind's name.
func (k Kind) String() string { return kindNames[k] }

// Kinds lists all kinds.
func Kinds() []Kind {
	kinds := make([]Kind, len(kindNames))
	for i := range kinds {
		kinds[i] = Kind(i)
	}
	return kinds
}

// Random returns a course of a kind and what should be found on it. The same seed
// gives the same course.
func Random(kind Kind, seed uint64) (Line, Truth) {
	rng := rand.New(rand.NewPCG(seed, uint64(kind)))
	origin := geodesy.FromDegrees(between(rng, -60, 60), between(rng, -180, 180))
	lo := draw(kind, rng)
	relief := randomRelief(rng)
	for i, p := range lo.path {
		lo.path[i].Z = relief.at(p)
	}
	l := lay(origin, lo.path)
	t := lo.truth(l)
	t.Marks = randomMarks(l, rng)
	return l, t
}

func draw(kind Kind, rng *rand.Rand) layout {
	switch kind {
	case Lapped:
		n, c := randomCircuit(rng)
		return laps(nil, c.road(), n, nil)
	case LeadIn:
		return drawLeadIn(rng)
	case RunOut:
		return drawRunOut(rng)
	case Fraction:
		n, c := randomCircuit(rng)
		road := c.road()
		part := int(between(rng, 0.1, 0.85) * float64(len(road)))
		return laps(road[:part+1], road.from(part), n, nil)
	case FigureEight:
		return drawEight(rng)
	case OutAndBack:
		road := winding(rng, logBetween(rng, 2000, 30000), between(rng, 0, 2*math.Pi))
		return layout{path: join(road, road.reversed()), shape: "out_and_back"}
	case Lollipop:
		c := randomStar(rng, logBetween(rng, 2000, 30000))
		stem := c.approach(rng, c.length*between(rng, 0.15, 0.5), 0)
		return layout{path: join(stem, c.road(), stem.reversed()), shape: "lollipop"}
	case Circuit:
		if rng.IntN(3) == 0 {
			return layout{path: lemniscate(rng, logBetween(rng, 3000, 60000)), shape: "circuit"}
		}
		return layout{path: randomStar(rng, logBetween(rng, 2000, 60000)).road(), shape: "circuit"}
	case PointToPoint:
		return layout{path: winding(rng, logBetween(rng, 2000, 100000), between(rng, 0, 2*math.Pi)), shape: "point_to_point"}
	case LollipopLaps:
		return drawLollipopLaps(rng)
	case Shuttle:
		return drawShuttle(rng)
	case TwoCircuits:
		return drawTwoCircuits(rng)
	case Nested:
		return drawNested(rng)
	case Alternating:
		return drawAlternating(rng)
	case BothWays:
		return drawBothWays(rng)
	case TwoSides:
		return drawTwoSides(rng)
	case Repeated:
		return drawRepeated(rng)
	}
	return drawLapFree(rng)
}

// randomCircuit returns a number of laps and a circuit for it.
func randomCircuit(rng *rand.Rand) (int, star) {
	n := 2 + rng.IntN(11)
	return n, randomStar(rng, logBetween(rng, 1000, min(40000, 120000/float64(n))))
}

func drawLeadIn(rng *rand.Rand) layout {
	n, c := randomCircuit(rng)
	road := c.road()
	lead := c.approach(rng, logBetween(rng, 200, 5000), 0)
	if rng.IntN(3) == 0 {
		return laps(lead, road, n, nil)
	}
	// The circuit is entered elsewhere than at the line.
	part := int(between(rng, 0.1, 0.85) * float64(len(road)))
	return laps(join(lead, road[:part+1]), road.from(part), n, nil)
}

func drawRunOut(rng *rand.Rand) layout {
	n, c := randomCircuit(rng)
	road := c.road()
	var lead path
	if rng.IntN(3) > 0 {
		lead = c.approach(rng, logBetween(rng, 200, 5000), 0)
	}
	leave := between(rng, 0.2, 0.8)
	part := int(leave * float64(len(road)-1))
	out := c.approach(rng, logBetween(rng, 300, 5000), c.angleOf(road[part])).reversed()
	out[0] = road[part]
	return laps(lead, road, n, join(road[:part+1], out))
}

// winding returns a road of a length in metres with a general direction in radians
// from which its own never turns more than 80°, so that it can't come near itself.
func winding(rng *rand.Rand, lengthM, general float64) path {
	type wave struct{ amplitude, wavelength, phase float64 }
	var waves []wave
	for _, w := range []float64{300, 800, 2500, 7000} {
		waves = append(waves, wave{between(rng, 5, 20) * math.Pi / 180, w * between(rng, 0.7, 1.4), between(rng, 0, 2*math.Pi)})
	}
	out := path{{}}
	for s := stepM / 2; s < lengthM; s += stepM {
		h := general
		for _, w := range waves {
			h += float64(w.amplitude * math.Sin(2*math.Pi*s/w.wavelength+w.phase))
		}
		sin, cos := math.Sincos(h)
		last := out[len(out)-1]
		out = append(out, point{E: last.E + float64(stepM*cos), N: last.N + float64(stepM*sin)})
	}
	return out
}

// between draws uniformly.
func between(rng *rand.Rand, lo, hi float64) float64 { return lo + float64((hi-lo)*rng.Float64()) }

// logBetween draws uniformly in the logarithm.
func logBetween(rng *rand.Rand, lo, hi float64) float64 {
	return lo * math.Exp(math.Log(hi/lo)*rng.Float64())
}
