package course

import (
	"math"
	"slices"

	"parcours.example/analysis/geodesy"
)

// snapM is the length in metres below which a lead-in or a run-out is none.
const snapM = 30.0

// drawLines finds the lap lines of circuits that follow each other.
//
// If the course ends on a circuit its end is the line, and the laps are counted back
// from it. Otherwise, if the line of the circuit that follows lies on this one, it is
// the line of both. Otherwise the line is where the circuit is joined: at the course's
// start, at the line of the circuit before, or where the lead-in meets it.
func drawLines(g *ground, circuits []circuit) {
	next := []float64{float64(g.last())}
	for k := len(circuits) - 1; k >= 0; k-- {
		c := &circuits[k]
		if next != nil && c.reaches(g, next[0]) {
			c.lines = atLeastTwoLaps(c.linesBack(g, next[0]))
		}
		next = c.lines
	}
	var before []float64
	for k := range circuits {
		c := &circuits[k]
		if c.lines == nil {
			c.lines = c.linesAfter(g, before)
		}
		before = c.lines
	}
}

// reaches reports whether the circuit comes by the place of a line at its end.
func (c circuit) reaches(g *ground, line float64) bool {
	if line > c.end()+g.steps(snapM) {
		_, near := c.measure(g, g.point(line), c.origin(line))
		return near && line <= c.end()+c.slack
	}
	return true
}

// linesAfter counts laps from the line where the circuit is joined, given the lines of
// the circuit before it.
func (c circuit) linesAfter(g *ground, before []float64) []float64 {
	if float64(c.from) <= c.slack {
		// A sharp corner at the start keeps the run from reaching it.
		if _, d := g.nearest(g.pos[0], c.image(0), c.slack); d <= toleranceM {
			return atLeastTwoLaps(c.linesFrom(g, g.pos[0], 0))
		}
	}
	if n := len(before); n > 0 && before[n-1] >= float64(c.from)-c.slack {
		if lines := atLeastTwoLaps(c.linesFrom(g, g.point(before[n-1]), before[n-1])); lines != nil {
			return lines
		}
	}
	line := c.joint(g)
	x, _ := c.measure(g, line, float64(c.from))
	return atLeastTwoLaps(c.linesFrom(g, line, x))
}

func atLeastTwoLaps(lines []float64) []float64 {
	if len(lines) < 3 {
		return nil
	}
	return lines
}

// linesBack counts laps back from the place of the last line.
func (c circuit) linesBack(g *ground, end float64) []float64 {
	line := g.point(end)
	xs := []float64{end}
	for x := end; x >= c.to[0]-c.slack; {
		next, near := c.measure(g, line, max(c.origin(x), 0))
		if !near && x < c.to[0] || !(next <= x-float64(c.period/2)) {
			break
		}
		xs = append(xs, next)
		x = next
	}
	slices.Reverse(xs)
	if xs[0] <= g.steps(snapM) {
		xs[0] = 0
	}
	return xs
}

// linesFrom counts laps from the line at place x.
func (c circuit) linesFrom(g *ground, line geodesy.Vec, x float64) []float64 {
	xs := []float64{x}
	for x <= float64(c.last())+c.slack {
		next, near := c.measure(g, line, min(c.image(x), float64(g.last())))
		if !near && x > float64(c.last()) || !(next >= x+float64(c.period/2)) {
			break
		}
		xs = append(xs, next)
		x = next
	}
	return xs
}

// measure returns the place nearest to the line on the pass around x and whether
// that pass comes near the line. It need not where the line is at a sharp turn, whose
// tip lies between the points.
func (c circuit) measure(g *ground, line geodesy.Vec, x float64) (at float64, near bool) {
	at, d := g.nearest(line, x, min(g.steps(lineSlackM), c.period/4))
	return at, d <= 1.5*toleranceM
}

// agreement returns the share of the samples between the first and the last line
// that lie on the first lap's line, within the tolerance and in its direction.
func agreement(g *ground, lines []float64) float64 {
	sample := func(k int) int { return int(math.Ceil(lines[k])) }
	total := sample(len(lines)-1) - sample(0)
	agreed := sample(1) - sample(0)
	for k := 1; k < len(lines)-1; k++ {
		seed := pair{i: sample(k) - 1, j: lines[0]}
		for _, p := range follow(g, g, seed, sample(k+1)-1) {
			if p.d < toleranceM {
				agreed++
			}
		}
	}
	return float64(agreed) / float64(total)
}
