package engine

import (
	"cmp"
	"fmt"
	"math"
	"strings"

	"parcours.example/analysis/wording"
)

// Place names a place or a stretch of a course in a request: exactly one of MarkID,
// ClimbID, AtM, StartM with EndM, and Finish. NaN and empty mean not given.
type Place struct {
	MarkID, ClimbID string
	// Pass counts the passes of the mark or the climb over the whole course from 1; 0 for
	// all of them.
	Pass int
	// AtM is a point; StartM and EndM bound a stretch.
	AtM, StartM, EndM float64
	Finish            bool
}

// The kinds of places in answers, beside those of features.
const (
	FeaturePoint   Feature = "point"
	FeatureStretch Feature = "stretch"
	FeatureFinish  Feature = "finish"
)

// Passes returns what a place of a request stands for on the stretch of the course that
// is ridden: its passes there, in order, at least one. A fault is an *Error with the
// pointer at, or below it.
func (p Place) Passes(c *Course, from, to float64, at string) ([]Span, error) {
	fault := func(field, format string, args ...any) error {
		return &Error{Code: CodeNotComputable, Pointer: at + field, Detail: fmt.Sprintf(format, args...)}
	}
	switch {
	case p.Finish:
		return []Span{{Of: FeatureFinish, Name: "the finish", StartM: to, EndM: to}}, nil
	case !math.IsNaN(p.AtM):
		if p.AtM < from-roundingM || p.AtM > to+roundingM {
			return nil, fault("/at_m", "The place at %v m isn't between %.3f m and %.3f m, where the ride goes.", p.AtM, from, to)
		}
		at := min(max(p.AtM, from), to)
		return []Span{{Of: FeaturePoint, StartM: at, EndM: at, Lap: c.LapAt(at)}}, nil
	case !math.IsNaN(p.StartM):
		if p.StartM < from-roundingM || p.EndM > to+roundingM || p.EndM-p.StartM < minStretchM {
			return nil, fault("/end_m", "The stretch from %v m to %v m must be %v m long at least and lie between %.3f m and %.3f m, where the ride goes.", p.StartM, p.EndM, minStretchM, from, to)
		}
		return []Span{{Of: FeatureStretch, StartM: max(p.StartM, from), EndM: min(p.EndM, to), Lap: c.LapAt(p.StartM)}}, nil
	}
	of, id, field := FeatureMark, p.MarkID, "/mark_id"
	if p.ClimbID != "" {
		of, id, field = FeatureClimb, p.ClimbID, "/climb_id"
	}
	var found []Span
	known, passes := false, 0
	for _, s := range spansOf(c, 0, c.LengthM()) {
		if s.Of != of || s.ID != id {
			continue
		}
		known, passes = true, s.Pass
		if (p.Pass == 0 || s.Pass == p.Pass) && s.StartM >= from-roundingM && s.EndM <= to+roundingM {
			found = append(found, s)
		}
	}
	for i := range found {
		found[i].Passes = passes
	}
	switch {
	case !known:
		return nil, fault(field, "The course has no %s %q.", of, id)
	case p.Pass > passes:
		return nil, fault("/pass", "The %s %q has %d passes, no pass %d.", of, id, passes, p.Pass)
	case len(found) == 0:
		return nil, fault(field, "The %s %q isn't passed between %.3f m and %.3f m, where the ride goes.", of, id, from, to)
	}
	return found, nil
}

// Words names a place that was asked for.
func (s Span) Words() string {
	switch s.Of {
	case FeatureFinish:
		return s.Name
	case FeaturePoint:
		return "the place at " + wording.Position(s.StartM)
	case FeatureStretch:
		return fmt.Sprintf("the stretch from %s to %s", wording.Position(s.StartM), wording.Position(s.EndM))
	}
	name := cmp.Or(strings.TrimSpace(s.Name), s.ID)
	if s.Passes > 1 {
		return fmt.Sprintf("%s, pass %d of %d", name, s.Pass, s.Passes)
	}
	return name
}
