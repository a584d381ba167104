package course

// cutTolerance is the distance in metres within which a node counts as the bound
// of a cut, so that a cut makes no piece of rounding's length.
const cutTolerance = 1e-6

// Cut returns the stretch between two positions in metres, 0 ≤ from < to ≤
// LengthM, as a course of its own whose distance axis starts at 0. Its line,
// profile, bends and ascent are those of the stretch. It has no structure: it is one
// part, from one point to another, without marks.
func (c *Course) Cut(from, to float64) *Course {
	at := nodesBetween(c.S, from, to)
	cut := &Course{
		Name:      c.Name,
		S:         make([]float64, len(at)),
		Z:         c.sampled(c.Z, at),
		Curvature: c.sampled(c.Curvature, at),
		AscentTo:  rebased(c.sampled(c.AscentTo, at)),
		DescentTo: rebased(c.sampled(c.DescentTo, at)),
		Shape:     PointToPoint,
		Laps:      Laps{Source: LapsNone},
		Quality:   c.Quality,
	}
	for i, x := range at {
		cut.S[i] = x - from
	}
	if c.HasPositions() {
		cut.Pos = positionsAt(c.S, c.Pos, at)
		cut.Heading = make([]float64, len(at)-1)
		for i := range cut.Heading {
			cut.Heading[i] = c.Heading[c.PieceAt((at[i]+at[i+1])/2)]
		}
	}
	cut.Parts = []Part{cut.part(Whole, 0, 0, cut.LengthM())}
	return cut
}

// nodesBetween returns the two bounds and, between them, the nodes of an axis.
func nodesBetween(s []float64, from, to float64) []float64 {
	at := []float64{from}
	for i := pieceAt(s, from) + 1; i < len(s) && s[i] < to-cutTolerance; i++ {
		if s[i] > from+cutTolerance {
			at = append(at, s[i])
		}
	}
	return append(at, to)
}

// sampled returns the values at increasing positions of a quantity given at the
// nodes, nil where there is none.
func (c *Course) sampled(y, at []float64) []float64 {
	if y == nil {
		return nil
	}
	return interpolateAll(c.S, y, at)
}

// rebased takes the first value away from all.
func rebased(y []float64) []float64 {
	if y == nil {
		return nil
	}
	first := y[0]
	for i := range y {
		y[i] -= first
	}
	return y
}
