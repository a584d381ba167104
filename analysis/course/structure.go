package course

import (
	"context"
	"math"

	"parcours.example/analysis/track"
)

// again is what is known of ground that is ridden more than once. On a course that is
// copies of one lap it is that of the first one alone.
type again struct {
	g    *ground
	grid *grid
	runs []*run
	// index finds the runs by a place.
	index runIndex
	// oneLap says that the ground is the first lap alone, of which the course is so many
	// copies.
	oneLap bool
	copies int
}

// structure finds how the course is built and fills Shape, Laps, Parts, Repeats
// and Marks from the nodes' distances and positions and from the cumulative ascent.
// Without positions nothing but laps can be seen, declared or in the gradient. It fails
// with the context's error.
func (c *Course) structure(ctx context.Context, declared declaredLaps, marks []track.Mark) error {
	laps, others, source := declared.main, declared.others, LapsDeclared
	if c.HasPositions() {
		var err error
		if c.again, err = newAgain(ctx, c, declared.copies); err != nil {
			return err
		}
		switch {
		case laps.count() == 0:
			laps, others = c.again.detectLaps()
			source = LapsDetected
		case others == nil && !c.again.oneLap:
			others = besides(laps, c.again.allRounds())
		}
	} else if laps.count() == 0 && c.HasElevation() {
		laps, source = c.waveLaps(), LapsDetected
		if laps.count() > 0 {
			c.Quality.warn("laps-by-gradient", laps.first(), "there are no positions: the %d laps were told by their gradients, which agree to %.0f %%; their lines may be 100 m off",
				laps.count(), 100*laps.agreed)
		}
	}
	c.setLaps(laps, source)
	c.setParts(laps.lines)
	if declared.line != "" {
		laps = c.moveLine(declared.line, laps, others, marks)
		c.setLaps(laps, source)
		c.setParts(laps.lines)
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	c.setOthers(others)
	c.warnOfDeparture(laps)
	c.Repeats = c.findRepeats(append(others[:len(others):len(others)], laps))
	c.Shape = c.findShape()
	c.matchMarks(marks)
	return ctx.Err()
}

// newAgain looks for ground that is ridden again, within one lap if the course is
// copies of one; 0 copies stand for any course. It fails with the context's error.
func newAgain(ctx context.Context, c *Course, copies int) (*again, error) {
	nodes := len(c.S)
	if copies > 0 {
		nodes = (nodes-1)/copies + 1
	}
	a := &again{g: newGround(c.S[:nodes], c.Pos[:nodes]), oneLap: copies > 0, copies: copies}
	a.grid = newGrid(a.g, toleranceM)
	var err error
	if a.runs, err = findRuns(ctx, a.g, a.grid); err != nil {
		return nil, err
	}
	a.index = indexRuns(a.g, a.runs)
	return a, nil
}

// inMetres turns places in steps into metres along the course.
func (a *again) inMetres(places []float64) {
	for i := range places {
		if places[i] == float64(a.g.last()) {
			places[i] = a.g.lengthM
			continue
		}
		places[i] *= a.g.step
	}
}

// setLaps describes the laps of the circuit that covers most.
func (c *Course) setLaps(r rounds, source LapSource) {
	c.Laps = Laps{Source: LapsNone}
	if n := r.count(); n > 0 {
		c.Laps = Laps{
			Count: n, Source: source, Agreement: r.agreed, StartM: r.first(),
			LengthM: r.lengthM() / float64(n), AscentM: c.AscentM(r.first(), r.last()) / float64(n),
		}
	}
}

// setOthers describes the laps of the other circuits.
func (c *Course) setOthers(others []rounds) {
	c.OtherCircuits = nil
	for _, r := range others {
		n := float64(r.count())
		c.OtherCircuits = append(c.OtherCircuits, OtherCircuit{
			Count: r.count(), StartM: r.first(), EndM: r.last(), Agreement: r.agreed,
			LengthM: r.lengthM() / n, AscentM: c.AscentM(r.first(), r.last()) / n,
		})
	}
}

// setParts divides the course at the lap lines.
func (c *Course) setParts(lines []float64) {
	length := c.LengthM()
	if len(lines) == 0 {
		c.Parts = []Part{c.part(Whole, 0, 0, length)}
		return
	}
	c.Parts = nil
	if first := lines[0]; first > 0 {
		c.Parts = append(c.Parts, c.part(LeadIn, 0, 0, first))
	}
	for k := 1; k < len(lines); k++ {
		c.Parts = append(c.Parts, c.part(Lap, k, lines[k-1], lines[k]))
	}
	if last := lines[len(lines)-1]; last < length {
		c.Parts = append(c.Parts, c.part(RunOut, 0, last, length))
	}
}

// part returns the part of the course between two positions.
func (c *Course) part(kind PartKind, lap int, from, to float64) Part {
	return Part{
		Kind: kind, Lap: lap, StartM: from, EndM: to,
		AscentM: c.AscentM(from, to), DescentM: c.DescentM(from, to),
	}
}

// lapLines returns the places of the lap line on each pass, the finish of the last
// lap included; nil without laps.
func (c *Course) lapLines() []float64 {
	var lines []float64
	for _, p := range c.Parts {
		if p.Kind != Lap {
			continue
		}
		if lines == nil {
			lines = append(lines, p.StartM)
		}
		lines = append(lines, p.EndM)
	}
	return lines
}

// noiseM returns how far two passes of the same ground lie apart on average, in
// metres; 0 where none is ridden again.
func (a *again) noiseM() float64 {
	sum, n := 0.0, 0
	for _, r := range a.runs {
		for _, d := range r.apart {
			sum += d
		}
		n += len(r.apart)
	}
	return sum / math.Max(float64(n), 1)
}
