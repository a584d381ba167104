// Package coursegen builds courses from known parts, so that what an analysis
// should find in them is known beforehand: their shape, laps, ascent, climbs and
// marks. Record then travels such a course with the errors of a recording. It
// serves tests and the invented season only; nothing that ships imports it.
//
// A course is drawn in a level plane at steps of about a metre, every stretch of
// road once, and the line is put together from these roads. Ground that is ridden
// again is therefore the same ground, to the last bit. The elevation belongs to the
// ground: it is a function of the place, or of the distance along a road.
package coursegen

import (
	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

// stepM is the distance between the nodes of a line, in metres in the plane.
const stepM = 1.0

// Line is a course as it lies on the ground, free of noise.
type Line struct {
	// Pos are positions about 1 m apart on the surface of the ellipsoid.
	Pos []geodesy.Vec
	// S is the distance along the line in metres, the sum of geodesics, and Z the
	// elevation in metres, both at each position.
	S, Z []float64
}

// LengthM returns the length of the line in metres.
func (l Line) LengthM() float64 { return l.S[len(l.S)-1] }

// Truth is what an analysis should find on a line.
type Truth struct {
	// Shape is "lapped", "out_and_back", "lollipop", "circuit" or
	// "point_to_point", empty where no single one is right.
	Shape string
	// Laps is the number of laps, 0 for a course without. The circuit is ridden
	// again from start to end at least once where Laps is above 0.
	Laps int
	// LapStarts are the starts of the laps in metres along the line.
	LapStarts []float64
	// LapLengthM is the length of each lap, LengthM of the whole line, in metres.
	LapLengthM, LengthM float64
	// Others are the circuits ridden for laps besides that one, in course order. It
	// covers more of the line than any of them, or as much and comes first.
	Others []OtherCircuit
	// Repeats are the stretches that are ridden again in the same direction without
	// being laps, each with its next pass, on courses of kind Repeated.
	Repeats []Repeat
	// AscentM is the sum of all rises from node to node, in metres; AscentOver1M that
	// of the rises that remain when all rises and falls below 1 m between turning
	// points are taken out, the smallest first.
	AscentM, AscentOver1M float64
	// Climbs are the climbs of the whole line by the stated definition, in course
	// order: one that is ridden on each lap appears on each lap. See Climbs.
	Climbs []Stretch
	// Marks are named places on the line.
	Marks []Mark
}

// OtherCircuit is a closed road that is ridden for laps.
type OtherCircuit struct {
	// Laps is the number of laps, 2 or more.
	Laps int
	// StartM is the start of the first lap, LengthM the length of each, in metres.
	StartM, LengthM float64
}

// Repeat says that the line follows the ground from StartM to EndM again from
// AgainStartM to AgainEndM, all in metres along it.
type Repeat struct{ StartM, EndM, AgainStartM, AgainEndM float64 }

// Stretch is a part of a line that rises.
type Stretch struct {
	// StartM and EndM are positions along the line, GainM the end's elevation less
	// the start's, in metres.
	StartM, EndM, GainM float64
}

// Mark is a named place beside or on the line.
type Mark struct {
	Name string
	Kind track.MarkKind
	Pos  geodesy.Vec
	// At are the positions in metres along the line at which it is passed, in
	// either direction.
	At []float64
}

// lay puts a path onto the ellipsoid: the plane touches it at the origin and
// each point goes down to the surface along the ray from the Earth's centre. That
// shortens a stretch 50 km away by 6·10⁻⁵, so distances are measured on the ground
// afterwards.
func lay(origin geodesy.Vec, p path) Line {
	frame := geodesy.FrameAt(origin)
	l := Line{Pos: make([]geodesy.Vec, len(p)), S: make([]float64, len(p)), Z: make([]float64, len(p))}
	for i, q := range p {
		lat, lon := origin.Add(frame.East.Scale(q.E)).Add(frame.North.Scale(q.N)).Degrees()
		l.Pos[i], l.Z[i] = geodesy.FromDegrees(lat, lon), q.Z
		if i > 0 {
			l.S[i] = l.S[i-1] + geodesy.Distance(l.Pos[i-1], l.Pos[i])
		}
	}
	return l
}

// layout is a course in the plane with its structure in node numbers.
type layout struct {
	path  path
	shape string
	// The circuit of the laps, and those ridden for laps besides.
	ring
	others []ring
	// repeats are pairs of stretches by their first and last nodes.
	repeats [][4]int
}

// ring is a closed road ridden for laps.
type ring struct {
	// starts are the nodes at which laps start; lap is the number of steps of one.
	starts []int
	lap    int
}

// steps returns the number of steps of all laps.
func (r ring) steps() int { return r.lap * len(r.starts) }

// truth measures a layout on the line that was made from it.
func (lo layout) truth(l Line) Truth {
	t := Truth{Shape: lo.shape, Laps: len(lo.starts), LengthM: l.LengthM(), AscentM: ascent(l.Z), AscentOver1M: ascentOver(l.Z, 1), Climbs: Climbs(l)}
	for _, i := range lo.starts {
		t.LapStarts = append(t.LapStarts, l.S[i])
	}
	if len(lo.starts) > 0 {
		t.LapLengthM = l.S[lo.starts[0]+lo.lap] - l.S[lo.starts[0]]
	}
	for _, r := range lo.others {
		first := r.starts[0]
		t.Others = append(t.Others, OtherCircuit{Laps: len(r.starts), StartM: l.S[first], LengthM: l.S[first+r.lap] - l.S[first]})
	}
	for _, r := range lo.repeats {
		t.Repeats = append(t.Repeats, Repeat{l.S[r[0]], l.S[r[1]], l.S[r[2]], l.S[r[3]]})
	}
	return t
}
