package course

import "parcours.example/analysis/geodesy"

const (
	// closedM is how far apart in metres the ends of a circuit may be.
	closedM = 50.0
	// outAndBackShare is the share of the way out that must be the way back.
	outAndBackShare = 0.85
	// stemShare is the least share of the half course that is a lollipop's stem,
	// minStemM its least length in metres.
	stemShare = 0.1
	minStemM  = 200.0
	// returnSlackM is how far from the start a way back may end.
	returnSlackM = 300.0
)

// findShape returns the first shape in the order of the constants that the course
// has.
func (c *Course) findShape() Shape {
	switch {
	case c.Laps.Count > 0:
		return Lapped
	case c.again == nil:
		return PointToPoint
	}
	share := c.again.g.wayBack()
	switch {
	case share >= outAndBackShare:
		return OutAndBack
	case share >= stemShare && share*c.LengthM()/2 >= minStemM:
		return Lollipop
	case geodesy.Chord(c.Pos[0], c.Pos[len(c.Pos)-1]) <= closedM:
		return Circuit
	}
	return PointToPoint
}

// wayBack returns how far from the start, as a share of half the course, the
// course's end comes back along its beginning.
func (g *ground) wayBack() float64 {
	back, half := g.reversed(), g.last()/2
	slack := int(min(g.steps(returnSlackM), float64(g.last())/20))
	for i := range slack + 1 {
		x, d := back.nearest(g.pos[i], float64(slack)/2, float64(slack)/2)
		if d > toleranceM {
			continue
		}
		if pairs := follow(g, back, pair{i: i, j: x}, half); len(pairs) > 0 {
			return float64(len(pairs)+i) / float64(half)
		}
	}
	return 0
}
