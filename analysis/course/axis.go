package course

import (
	"sort"

	"parcours.example/analysis/geodesy"
)

// LengthM returns the length of the course in metres.
func (c *Course) LengthM() float64 { return c.S[len(c.S)-1] }

// HasElevation reports whether the course has elevations.
func (c *Course) HasElevation() bool { return c.Z != nil }

// HasPositions reports whether the course has positions.
func (c *Course) HasPositions() bool { return c.Pos != nil }

// AscentM and DescentM return the ascent and the descent between two positions in
// metres; 0 without elevation. They are additive: the parts of a stretch sum to
// it.
func (c *Course) AscentM(from, to float64) float64 {
	return c.interpolate(c.AscentTo, to) - c.interpolate(c.AscentTo, from)
}

// DescentM is the counterpart of AscentM, a positive number.
func (c *Course) DescentM(from, to float64) float64 {
	return c.interpolate(c.DescentTo, to) - c.interpolate(c.DescentTo, from)
}

// ElevationAt returns the elevation in metres at a position, clamped to the
// course's ends; 0 without elevation.
func (c *Course) ElevationAt(at float64) float64 { return c.interpolate(c.Z, at) }

// PieceAt returns the index i of the piece [S[i], S[i+1]] that holds a position,
// the later one at a node, clamped to the course.
func (c *Course) PieceAt(at float64) int { return pieceAt(c.S, at) }

// pieceAt is PieceAt on an axis s.
func pieceAt(s []float64, at float64) int {
	// First node strictly beyond at.
	i := sort.Search(len(s), func(i int) bool { return s[i] > at }) - 1
	return min(max(i, 0), len(s)-2)
}

// Gradient returns the gradient (rise over run, 0.08 for 8 %) of a piece; 0
// without elevation.
func (c *Course) Gradient(piece int) float64 {
	if c.Z == nil {
		return 0
	}
	return (c.Z[piece+1] - c.Z[piece]) / (c.S[piece+1] - c.S[piece])
}

// LapAt returns the 1-based lap that holds a position, 0 outside laps. The line
// between two laps belongs to the later one.
func (c *Course) LapAt(at float64) int {
	i := sort.Search(len(c.Parts), func(i int) bool { return c.Parts[i].StartM > at }) - 1
	if i < 0 {
		return 0
	}
	return c.Parts[i].Lap
}

// interpolate returns the value at a position of a quantity given at the nodes.
func (c *Course) interpolate(y []float64, at float64) float64 {
	if y == nil {
		return 0
	}
	i := c.PieceAt(at)
	f := (at - c.S[i]) / (c.S[i+1] - c.S[i])
	f = min(max(f, 0), 1)
	return y[i] + float64(f*(y[i+1]-y[i]))
}

// PositionAt returns the position at a place of a course that has positions, straight between
// its vertices.
func (c *Course) PositionAt(at float64) geodesy.Vec {
	i := c.PieceAt(at)
	share := min(max((at-c.S[i])/(c.S[i+1]-c.S[i]), 0), 1)
	return c.Pos[i].Lerp(c.Pos[i+1], share)
}
