package engine

import (
	"cmp"
	"context"
	"fmt"

	"parcours.example/analysis/duel"
	"parcours.example/analysis/ride"
	"parcours.example/internal/shortform"
)

// Duel is how one rider of a field does against another, each alone.
type Duel struct {
	*duel.Answer
	// HeavierIndex and LighterIndex count in the field.
	HeavierIndex, LighterIndex int
	// Spans says what the answer's Stretches stand for, LastClimb what its LastClimb is, at
	// positions on the course.
	Spans     []Span
	LastClimb *Span
}

// match finds who rides the duel, the heavier first: those named, else the heaviest and the
// lightest of the field; none in a field of one.
func (s *scenario) match() (pair []int, err error) {
	asked := s.asked.Duel
	if len(asked) == 0 {
		return s.extremes(), nil
	}
	for i, name := range asked {
		at := fmt.Sprintf("#/duel/riders/%d", i)
		rider, known := s.byName[name]
		switch {
		case !known:
			return nil, &Error{Code: CodeNotComputable, Pointer: at, Detail: fmt.Sprintf("There is no rider named %q.", shortform.Clip(name))}
		case len(pair) > 0 && pair[0] == rider:
			return nil, &Error{Code: CodeNotComputable, Pointer: at, Detail: "A duel is between two riders; name another."}
		}
		pair = append(pair, rider)
	}
	if s.field[pair[1]].MassKg > s.field[pair[0]].MassKg {
		pair[0], pair[1] = pair[1], pair[0]
	}
	return pair, nil
}

// extremes returns the heaviest and the lightest of the field; of equal masses names
// decide, so that the order of the field doesn't matter.
func (s *scenario) extremes() []int {
	if len(s.field) < 2 {
		return nil
	}
	less := func(a, b int) bool {
		one, other := &s.field[a], &s.field[b]
		return cmp.Or(cmp.Compare(one.MassKg, other.MassKg), cmp.Compare(one.Name, other.Name)) < 0
	}
	lightest, heaviest := 0, 0
	for i := range s.field {
		if less(i, lightest) {
			lightest = i
		}
		if less(heaviest, i) {
			heaviest = i
		}
	}
	return []int{heaviest, lightest}
}

// duel rides the duel of two of the field; nil without them.
func (s *scenario) duel(ctx context.Context) (*Duel, error) {
	pair := s.duellists
	if len(pair) == 0 {
		return nil, nil
	}
	d := &Duel{HeavierIndex: pair[0], LighterIndex: pair[1], Spans: spansOf(s.course, s.from, s.to)}
	d.LastClimb = lastClimb(s.course, d.Spans)
	q := duel.Question{Heavier: s.contestant(pair[0]), Lighter: s.contestant(pair[1])}
	for _, span := range d.Spans {
		q.Spans = append(q.Spans, s.roadSpan(span))
	}
	if d.LastClimb != nil {
		climb := s.roadSpan(*d.LastClimb)
		q.LastClimb = &climb
	}
	var err error
	d.Answer, err = duel.Ride(ctx, s.road, q)
	return d, err
}

func (s *scenario) contestant(i int) duel.Contestant {
	return duel.Contestant{Rider: s.field[i].Rider, Setup: s.setups[s.setupOf[i]], Steps: s.alone[i].steps}
}

// roadSpan brings a span onto the race's own axis.
func (s *scenario) roadSpan(span Span) ride.Span {
	return ride.Span{Of: string(span.Of), ID: span.ID, Pass: span.Pass, StartM: span.StartM - s.from, EndM: span.EndM - s.from}
}

// lastClimb returns the last pass of a climb among spans that is no part of another
// climb; nil without one.
func lastClimb(c *Course, spans []Span) *Span {
	var last *Span
	for i := range spans {
		s := &spans[i]
		if s.Of == FeatureClimb && c.Terrain.Climbs[s.Index].ParentID == "" && (last == nil || s.StartM > last.StartM) {
			last = s
		}
	}
	return last
}
