package course

import (
	"math"

	"parcours.example/analysis/geodesy"
)

const (
	// lineSlackM is how much two laps may fall short of meeting themselves, because
	// a run's ends are only known to the tolerance and coarse sampling cuts corners.
	lineSlackM = 120.0
	// snapM is the length in metres below which a lead-in or a run-out is none.
	snapM = 30.0
	// minAgreement is the least share of lap samples on the first lap's line.
	minAgreement = 0.8
)

// circuit is ground that is ridden round and round: a run that reaches the place
// where its own other pass began.
type circuit struct {
	*run
	// period is the length of the first lap in steps.
	period float64
	// slack is lineSlackM, less on the shortest laps, in steps.
	slack float64
}

// asCircuit returns the circuit that a run is, if it is one. A road shared by two
// loops, a loop ridden one and a half times and a crossing end before they reach
// their own other pass.
func asCircuit(g *ground, r *run) (circuit, bool) {
	period := r.to[0] - float64(r.from)
	slack := min(g.steps(lineSlackM), period/5)
	// On a line that crawls about in one place a run's other pass can fall behind it.
	isLap := period >= g.steps(minAgainM)/2
	return circuit{r, period, slack}, isLap && float64(r.last()) >= r.to[0]-slack
}

// findCircuit returns the circuit that covers most of the course. Every second lap
// is a circuit too: among those that cover almost as much, the shortest lap is it.
func findCircuit(g *ground, runs []*run) (circuit, bool) {
	var all []circuit
	widest := 0.0
	for _, r := range runs {
		if c, ok := asCircuit(g, r); ok {
			all = append(all, c)
			widest = max(widest, c.cover())
		}
	}
	var best circuit
	for _, c := range all {
		if c.cover() >= 0.8*widest && (best.run == nil || c.period < best.period) {
			best = c
		}
	}
	return best, best.run != nil
}

// cover returns the length of the course on the circuit, in steps.
func (c circuit) cover() float64 { return c.to[len(c.to)-1] - float64(c.from) }

// lines returns the places of the lap line, the first lap's start first.
//
// If the course ends on the circuit its end is the line, and the laps are counted
// back from it. Otherwise the line is where the circuit is joined.
func (c circuit) lines(g *ground) []float64 {
	end := float64(g.last())
	if c.to[len(c.to)-1] < end-g.steps(snapM) {
		return c.linesFrom(g)
	}
	return c.linesBack(g, end)
}

// linesBack counts laps back from the place of the last line.
func (c circuit) linesBack(g *ground, end float64) []float64 {
	line := g.point(end)
	xs := []float64{end}
	for x := end; x >= c.to[0]-c.slack; {
		next, near := c.measure(g, line, max(c.origin(x), 0))
		if !near || !(next <= x-c.period/2) {
			break
		}
		xs = append([]float64{next}, xs...)
		x = next
	}
	if xs[0] <= g.steps(snapM) {
		xs[0] = 0
	}
	return xs
}

// linesFrom counts laps from where the circuit is joined.
func (c circuit) linesFrom(g *ground) []float64 {
	line, x := g.pos[0], 0.0
	if float64(c.from) > g.steps(snapM) {
		line = c.joint(g)
		x, _ = c.measure(g, line, float64(c.from))
	}
	xs := []float64{x}
	for x <= float64(c.last())+c.slack {
		next, near := c.measure(g, line, min(c.image(x), float64(g.last())))
		if !near || !(next >= x+c.period/2) {
			break
		}
		xs = append(xs, next)
		x = next
	}
	return xs
}

// measure returns the place nearest to the line on the pass around x and whether
// that pass comes near the line.
func (c circuit) measure(g *ground, line geodesy.Vec, x float64) (at float64, near bool) {
	at, d := g.nearest(line, x, min(g.steps(lineSlackM), c.period/4))
	return at, d <= 1.5*toleranceM
}

// approachLevels are distances in metres of a lead-in from the circuit that it
// comes to; the least is clear of the noise.
var approachLevels = [...]float64{25, 60, 100, 140}

// joint returns the place where the lead-in meets the circuit: where the straight
// line through two places of the approach meets it. Near the junction coarse
// sampling cuts the corner and makes the approach look flatter than it is, so the
// nearest pair of places counts unless a farther one is clearly steeper.
func (c circuit) joint(g *ground) geodesy.Vec {
	joint, slope := g.pos[c.from], 0.0
	places := c.approach(g)
	for k := 1; k < len(places); k++ {
		fall := approachLevels[k] - approachLevels[k-1]
		steep := fall / (places[k-1] - places[k])
		if steep <= 1.15*slope {
			continue
		}
		slope = steep
		a, b := g.point(places[k]), g.point(places[k-1])
		joint = b.Add(b.Sub(a).Scale(approachLevels[k-1] / fall))
	}
	return joint
}

// approach returns the places at which the lead-in was last at each of the levels,
// as far as it was.
func (c circuit) approach(g *ground) []float64 {
	var places []float64
	start := min(c.from+int(g.steps(lineSlackM)), c.last())
	before := c.fromLaterPasses(g, start)
	for i := start - 1; i >= max(c.from-int(g.steps(4*lineSlackM)), 0); i-- {
		d := c.fromLaterPasses(g, i)
		for len(places) < len(approachLevels) && before <= approachLevels[len(places)] && d > approachLevels[len(places)] {
			places = append(places, float64(i)+(d-approachLevels[len(places)])/(d-before))
		}
		before = d
	}
	return places
}

// fromLaterPasses returns the mean distance in metres of a sample near the run's
// start from the next few passes of the circuit.
func (c circuit) fromLaterPasses(g *ground, i int) float64 {
	const passes = 4
	sum, n := 0.0, 0.0
	for x := c.image(float64(c.from)); n < passes; n++ {
		_, d := g.nearest(g.pos[i], x+float64(i-c.from), min(g.steps(2*lineSlackM), c.period/4))
		sum += d
		if x > float64(c.last()) {
			return sum / (n + 1)
		}
		x = c.image(x)
	}
	return sum / n
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

// detectLaps returns the lap lines, in metres along the course, and the agreement
// of the laps; no lines if there are no laps.
func detectLaps(g *ground, runs []*run) (lines []float64, agreed float64) {
	c, ok := findCircuit(g, runs)
	if !ok {
		return nil, 0
	}
	lines = c.lines(g)
	if len(lines) < 3 {
		return nil, 0
	}
	agreed = agreement(g, lines)
	if agreed < minAgreement {
		return nil, 0
	}
	return lines, agreed
}
