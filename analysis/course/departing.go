package course

import "math"

// A lap may leave the circuit for a while: at a closed road or a wrong turn, or where
// the recording is bad. It counts as a lap where it comes by the line before and after
// it and, beside a lap next to it,
const (
	// differs in length by no more than this share, and
	departingLength = 0.2
	// has at least this share on its line.
	departingShare = 0.8
)

// isLapBeside reports whether the stretch from one place to another is a lap of the
// circuit that the lap beside it rides.
func (g *ground) isLapBeside(lap [2]float64, from, to float64) bool {
	length := lap[1] - lap[0]
	if math.Abs(to-from-length) > departingLength*length {
		return false
	}
	on, n := g.onLap(lap, from, to), 0
	for _, here := range on {
		if here {
			n++
		}
	}
	return float64(n) >= departingShare*float64(len(on))
}

// onLap tells which samples from one place to another lie on the line of a lap, within
// the tolerance and in its direction; its start corresponds to the first place, its end
// to the other.
func (g *ground) onLap(lap [2]float64, from, to float64) []bool {
	first, end := int(math.Ceil(from)), int(math.Ceil(to))
	on := make([]bool, end-first)
	mark := func(pairs []pair) {
		for _, p := range pairs {
			if p.d < toleranceM {
				on[p.i-first] = true
			}
		}
	}
	mark(follow(g, g, pair{i: first - 1, j: lap[0]}, end-1))
	if n := len(on); n > 0 && !on[n-1] {
		mark(follow(g, g, pair{i: end, j: lap[1]}, first))
	}
	return on
}

// another returns the place of the lap line one lap farther along the course, or back
// where way is −1, than the lap between two lines, and whether a lap lies between.
func (g *ground) another(lap [2]float64, way float64) (float64, bool) {
	line, length := lap[1], lap[1]-lap[0]
	if way < 0 {
		line = lap[0]
	}
	at, d := g.nearest(g.point(line), line+float64(way*length), departingLength*length)
	if d > nearLineM {
		return 0, false
	}
	return at, g.isLapBeside(lap, min(line, at), max(line, at))
}

// extended returns lap lines with those of the laps before and after that depart from
// the circuit, within two places.
func (g *ground) extended(lines []float64, from, to float64) []float64 {
	snap := g.steps(snapM)
	for {
		at, found := g.another([2]float64{lines[0], lines[1]}, -1)
		if !found || at < from-snap {
			break
		}
		lines = append([]float64{max(at, from)}, lines...)
	}
	for {
		n := len(lines)
		at, found := g.another([2]float64{lines[n-2], lines[n-1]}, 1)
		if !found || at > to+snap {
			return lines
		}
		lines = append(lines, min(at, to))
	}
}

// withDeparting returns the lap lines of circuits, in course order, with the laps that
// depart from them; circuits that are one but for such laps are joined.
func (g *ground) withDeparting(circuits [][]float64) [][]float64 {
	var all [][]float64
	before := 0.0
	for k, lines := range circuits {
		after := float64(g.last())
		if k+1 < len(circuits) {
			after = circuits[k+1][0]
		}
		lines = g.extended(lines, before, max(after, lines[len(lines)-1]))
		if n := len(all); n > 0 && g.continues(all[n-1], lines) {
			all[n-1] = append(all[n-1], lines[1:]...)
		} else {
			all = append(all, lines)
		}
		before = lines[len(lines)-1]
	}
	return all
}

// continues reports whether laps go on with those of other lines: they start where they
// end and ride the same circuit.
func (g *ground) continues(lines, others []float64) bool {
	n := len(lines)
	return math.Abs(lines[n-1]-others[0]) <= g.steps(snapM) &&
		g.isLapBeside([2]float64{lines[n-2], lines[n-1]}, others[0], others[1])
}
