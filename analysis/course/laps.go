package course

import (
	"slices"

	"parcours.example/analysis/geodesy"
)

const (
	// snapM is the length in metres below which a lead-in or a run-out is none.
	snapM = 30.0
	// nearLineM is how far in metres a pass may be from the lap line.
	nearLineM = 1.5 * toleranceM
)

// drawLines finds the lap lines of circuits that follow each other.
//
// If the course ends on a circuit its end is the line, and the laps are counted back
// from it. Otherwise, if the line of the circuit that follows lies on this one, it is
// the line of both, unless that loses a lap to one that starts where the course does:
// where riders turn back at the line, the turn may be recorded short. Otherwise the line is where the circuit is joined: at the course's
// start, at the line of the circuit before, or where the lead-in meets it.
func drawLines(g *ground, circuits []circuit) {
	next := []float64{float64(g.last())}
	for k := len(circuits) - 1; k >= 0; k-- {
		c := &circuits[k]
		if next != nil && c.reaches(g, next[0]) {
			c.lines = atLeastTwoLaps(c.linesBack(g, next[0]))
		}
		if k+1 < len(circuits) && c.lines != nil {
			lines := c.linesFromStart(g)
			if n := len(lines); n > len(c.lines) && lines[n-1] <= next[0]+g.steps(snapM) {
				c.lines = lines
			}
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
	if lines := c.linesFromStart(g); lines != nil {
		return lines
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

// linesFromStart counts laps from the start of a course that starts on the circuit; nil
// if it doesn't.
func (c circuit) linesFromStart(g *ground) []float64 {
	if float64(c.from) > c.slack {
		return nil
	}
	// A sharp corner at the start keeps the run from reaching it.
	if _, d := g.nearest(g.pos[0], c.image(0), c.slack); d > toleranceM {
		return nil
	}
	return atLeastTwoLaps(c.linesFrom(g, g.pos[0], 0))
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

// measure returns the place nearest to the line on the pass around x and whether that
// pass comes near the line. It need not where it turns back at the line: the tip of the
// turn may lie between two points.
func (c circuit) measure(g *ground, line geodesy.Vec, x float64) (at float64, near bool) {
	at, d := g.nearest(line, x, min(g.steps(lineSlackM), c.period/4))
	return at, d <= nearLineM || d <= lineSlackM && g.turnsBack(at)
}
