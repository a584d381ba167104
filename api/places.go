package api

import (
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// decodePlace reads a place that stands at a pointer: one of its forms, and no other.
func decodePlace(at string, p CoursePlace) (engine.Place, error) {
	forms := 0
	for _, is := range []bool{p.MarkID != nil, p.ClimbID != nil, p.AtM != nil, p.StartM != nil || p.EndM != nil, p.Finish != nil} {
		if is {
			forms++
		}
	}
	switch {
	case forms != 1:
		return engine.Place{}, invalidField(at, "exactly-one", "give exactly one of mark_id, climb_id, at_m, start_m with end_m, and finish")
	case (p.StartM != nil) != (p.EndM != nil):
		return engine.Place{}, invalidField(at, "missing", "a stretch needs both start_m and end_m")
	case p.StartM != nil && *p.EndM <= *p.StartM:
		return engine.Place{}, invalidField(at+"/end_m", "out-of-order", "the stretch ends before it starts")
	case p.Pass != nil && p.MarkID == nil && p.ClimbID == nil:
		return engine.Place{}, invalidField(at+"/pass", "not-allowed", "only marks and climbs have passes")
	}
	return engine.Place{
		MarkID: valueOr(p.MarkID, ""), ClimbID: valueOr(p.ClimbID, ""), Pass: valueOr(p.Pass, 0),
		AtM: number(p.AtM), StartM: number(p.StartM), EndM: number(p.EndM), Finish: p.Finish != nil,
	}, nil
}

// encodePlace tells a place as it was understood, on a course that is ridden up to endM.
func encodePlace(s engine.Span, endM float64) ToldPlace {
	told := ToldPlace{
		Of: ToldPlaceOf(s.Of), ID: optional(s.ID), Name: s.Words(),
		StartM: metres(s.StartM), EndM: metres(s.EndM), ToFinishM: metres(endM - s.StartM),
	}
	if s.Lap > 0 {
		told.Lap = &s.Lap
	}
	if s.Pass > 0 && s.Passes > 1 {
		told.Pass = &s.Pass
	}
	return told
}
