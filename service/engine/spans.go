package engine

import (
	"fmt"
	"math"
)

const (
	// roundingM covers positions that a caller read from an answer, where they are
	// rounded.
	roundingM = 0.01
	// minStretchM is the shortest ride.
	minStretchM = 1.0
)

// Feature is the kind of thing that a ride is split by.
type Feature string

// The kinds of features.
const (
	FeaturePart  Feature = "part"
	FeatureClimb Feature = "climb"
	FeatureMark  Feature = "mark"
)

// Span is a stretch that times are told for: a part, or one pass of a climb or a
// mark.
type Span struct {
	Of Feature
	// Index is the place in the course's parts or the terrain's climbs or marks.
	Index int
	// ID is the climb's or the mark's; Name may be empty; Kind is the part's or the
	// mark's.
	ID, Name, Kind string
	// Lap is 1-based, 0 outside laps. Pass counts the passes of a climb or a mark
	// over the whole course from 1; 0 for parts.
	Lap, Pass int
	// Passes is the number of passes of the climb or the mark on the whole course, for
	// places that were asked for; else 0.
	Passes int
	// StartM and EndM are positions on the course; equal for a mark.
	StartM, EndM float64
}

// spansOf lists what lies wholly inside a stretch of the course: first the parts,
// then the climbs' passes, then the marks' passes.
func spansOf(c *Course, from, to float64) []Span {
	var spans []Span
	add := func(s Span) {
		if s.StartM >= from-roundingM && s.EndM <= to+roundingM {
			s.StartM, s.EndM = min(max(s.StartM, from), to), min(max(s.EndM, from), to)
			spans = append(spans, s)
		}
	}
	for i, p := range c.Parts {
		add(Span{Of: FeaturePart, Index: i, Kind: string(p.Kind), Lap: p.Lap, StartM: p.StartM, EndM: p.EndM})
	}
	for i, climb := range c.Terrain.Climbs {
		for j, p := range climb.Passes {
			add(Span{
				Of: FeatureClimb, Index: i, ID: climb.ID, Name: climb.Name, Lap: p.Lap, Pass: j + 1,
				StartM: p.StartM, EndM: p.EndM,
			})
		}
	}
	for i, m := range c.Terrain.Marks {
		for j, p := range m.Passes {
			add(Span{
				Of: FeatureMark, Index: i, ID: m.ID, Name: m.Name, Kind: string(m.Kind), Lap: p.Lap, Pass: j + 1,
				StartM: p.AtM, EndM: p.AtM,
			})
		}
	}
	return spans
}

// stretch returns the bounds in metres of a ride on a course of the given length;
// NaN stands for the course's ends. A bound that is beyond an end by rounding alone
// is that end.
func stretch(lengthM, startM, endM float64) (from, to float64, err error) {
	from, to = 0, lengthM
	if !math.IsNaN(startM) {
		from = startM
	}
	if !math.IsNaN(endM) {
		to = min(endM, lengthM)
	}
	switch {
	case endM > lengthM+roundingM:
		return 0, 0, &Error{
			Code: CodeNotComputable, Pointer: "#/end_m",
			Detail: fmt.Sprintf("The course ends at %.3f m; end_m is beyond it.", lengthM),
		}
	case !(from+minStretchM <= to):
		return 0, 0, &Error{
			Code: CodeNotComputable, Pointer: "#/start_m",
			Detail: fmt.Sprintf("The ride would go from %.3f m to %.3f m; give a start at least %v m before the end.", from, to, minStretchM),
		}
	}
	return from, to, nil
}
