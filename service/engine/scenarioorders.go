package engine

import (
	"fmt"
	"math"

	"parcours.example/analysis/race"
	"parcours.example/internal/shortform"
)

const (
	// defaultAttackS is how long an attack lasts where nothing else is said, defaultLeadM
	// how far before its line a lead-out begins.
	defaultAttackS, defaultLeadM = 120.0, 800.0
	// leastLineM is how far from the start the first line may be.
	leastLineM = 1.0
)

// orders returns what a rider is told to do, one order for each pass of its place.
func (s *scenario) orders(rider int) ([]race.Order, error) {
	var out []race.Order
	var manner race.OrderKind
	for i, o := range s.field[rider].Orders {
		at := fmt.Sprintf("%s/orders/%d", s.field[rider].pointer, i)
		switch o.Do {
		case race.ShareWork, race.SitIn, race.Save:
			if manner != "" {
				return nil, &Error{Code: CodeNotComputable, Pointer: at, Detail: fmt.Sprintf("A rider shares the work, sits in or saves, one of them; %s stands before %s.", manner, o.Do)}
			}
			manner = o.Do
		}
		meant, err := s.order(rider, o, at)
		if err != nil {
			return nil, err
		}
		out = append(out, meant...)
	}
	if len(out) > MostOrders {
		return nil, tooMany(s.field[rider].pointer+"/orders", "orders of a rider, each pass counted", MostOrders, len(out))
	}
	return out, nil
}

// order is one of them, which stands at a pointer.
func (s *scenario) order(rider int, o Order, at string) ([]race.Order, error) {
	meant := race.Order{Kind: o.Do, For: -1}
	switch o.Do {
	case race.Attack:
		meant.ForS = s.assume(at+"/for_s", o.ForS, defaultAttackS, "s", "convention: an effort of a few minutes at most")
	case race.LeadOut:
		var err error
		if meant.For, err = s.ledOut(rider, o, at); err != nil {
			return nil, err
		}
		meant.FromM = s.assume(at+"/from_m", o.FromM, defaultLeadM, "m", "convention: about the last minute of a race")
	}
	if o.At == nil {
		return []race.Order{meant}, nil
	}
	passes, err := s.passes(*o.At, at+"/at", o.Do == race.Attack || o.Do == race.Save)
	if err != nil {
		return nil, err
	}
	if o.Do == race.Save && len(passes) > 1 {
		return nil, &Error{Code: CodeNotComputable, Pointer: at + "/at", Detail: fmt.Sprintf("A rider saves until one place; this one is passed %d times. Name a pass.", len(passes))}
	}
	out := make([]race.Order, len(passes))
	for i, pass := range passes {
		out[i] = meant
		out[i].AtM = pass.atM
	}
	return out, nil
}

// ledOut returns who is led out.
func (s *scenario) ledOut(rider int, o Order, at string) (int, error) {
	whom, known := s.byName[o.ForRider]
	switch {
	case !known:
		return 0, &Error{Code: CodeNotComputable, Pointer: at + "/for_rider", Detail: fmt.Sprintf("There is no rider named %q.", shortform.Clip(o.ForRider))}
	case whom == rider:
		return 0, &Error{Code: CodeNotComputable, Pointer: at + "/for_rider", Detail: "Riders can't lead themselves out."}
	}
	return whom, nil
}

// racePoint is a place of a request as a line of the race.
type racePoint struct {
	span Span
	// atM is on the race's own axis.
	atM float64
}

// passes returns what a place stands for as lines: of a climb or a stretch its start or
// its end. Those at the start of the race are none.
func (s *scenario) passes(p Place, at string, start bool) ([]racePoint, error) {
	spans, err := p.Passes(s.course, s.from, s.to, at)
	if err != nil {
		return nil, err
	}
	var out []racePoint
	for _, span := range spans {
		where := span.EndM
		if start {
			where = span.StartM
		}
		if where -= s.from; where >= leastLineM || start {
			out = append(out, racePoint{span, min(max(where, leastLineM), s.road.LengthM())})
		}
	}
	if len(out) == 0 {
		return nil, &Error{Code: CodeNotComputable, Pointer: at, Detail: fmt.Sprintf("%s is at the start of the race; a line must be %v m from it at least.", spans[0].Words(), leastLineM)}
	}
	return out, nil
}

// assume returns a value, or the default where it isn't given, and notes that.
func (s *scenario) assume(pointer string, value, otherwise float64, unit, source string) float64 {
	if !math.IsNaN(value) {
		return value
	}
	s.assumed.add(Assumption{Pointer: pointer, Value: otherwise, Unit: unit, Source: source})
	return otherwise
}
