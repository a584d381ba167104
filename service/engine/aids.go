package engine

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"parcours.example/analysis/aid"
	"parcours.example/analysis/plan"
)

const (
	// An aid of up to costS seconds counts as AidCost; a longer one once more for each costS
	// begun, one that denies shelter deniedCost times as much. Every linesPerCost lines at
	// which it is tried beside come to one more.
	costS        = 60.0
	deniedCost   = 3
	linesPerCost = 4
)

// Aid is an aid as it is asked for.
type Aid struct {
	// Aid is the change; its EarnedM is found from AvailableFrom.
	aid.Aid
	// AvailableFrom are the ids of the marks whose passes earn it; empty for an aid in hand
	// at the start.
	AvailableFrom []string
}

// AidsRequest is what is asked of aids.
type AidsRequest struct {
	// Ride says who rides where; without Trace, Doubt and Sensitivities.
	Ride
	AidQuestion
}

// AidQuestion is what is to be known of aids beside who rides where.
type AidQuestion struct {
	Aids []Aid
	// At is the line or stretch at which gains are taken; nil for the finish.
	At *Place
	// FollowerGapM is the gap between the wheels of the user and a follower, in metres; NaN
	// for the default.
	FollowerGapM float64
}

// Aids are where aids gain most, for all riders on all set-ups.
type Aids struct {
	Course *Course
	// StartM and EndM bound the stretch that was ridden. Positions in Items count from
	// StartM, those of Spans are on the course.
	StartM, EndM float64
	At           Span
	Aids         []ToldAid
	// Lines are those to which the Sprints of Items lead, the last the one of At.
	Lines          []Span
	Items          []AidsItem
	Assumptions    []Assumption
	Recommendation string
	Model          []string

	places []plan.Place
}

// ToldAid is an aid with the passes that earn it.
type ToldAid struct {
	Aid
	Earned []Span
	// Without are the passes of climbs and marks that end before the first of them.
	Without []Span
}

// AidsItem is one rider on one set-up.
type AidsItem struct {
	RiderIndex, SetupIndex int
	Rider, Setup           string
	// TimeS is the time to the line of At, or through it, without an aid.
	TimeS float64
	// Aids is in the order of the request.
	Aids  []AidFound
	Joint *aid.Joint
	Err   error
}

// AidFound is what was found for an aid.
type AidFound struct {
	*aid.Found
	// FirstS is the ride's clock where the aid is first to be had.
	FirstS float64
	// Sprints are by line; nil for lines before the aid can be had.
	Sprints []*aid.Sprint
	Others  []aid.Other
	// Err says why there is nothing else: the aid brings the rider to a halt.
	Err error
}

// Where says in words what lies at a position of a ride.
func (a *Aids) Where(atM float64) aid.Spot { return whereOf(a.places, a.EndM-a.StartM, atM) }

// Aids finds where aids gain most for all riders on all set-ups over a course. A single
// ride's failure is the call's; of several it stands in its place. Errors are those of
// Predict, and *Error for marks, a line or a mass that don't fit.
func (e *Engine) Aids(ctx context.Context, r AidsRequest) (*Aids, error) {
	c, err := e.Course(ctx, r.Course)
	if err != nil {
		return nil, err
	}
	a, err := e.aids(ctx, c, r)
	if err == nil && len(a.Items) == 1 && a.Items[0].Err != nil {
		return nil, a.Items[0].Err
	}
	return a, err
}

// aids is Aids on a course, where it is no error that no ride is possible.
func (e *Engine) aids(ctx context.Context, c *Course, r AidsRequest) (*Aids, error) {
	from, to, err := stretch(c.LengthM(), r.StartM, r.EndM)
	if err != nil {
		return nil, err
	}
	s := aidsScene{matrix: matrix{
		course: c, from: from, to: to, riders: r.Riders, efforts: r.each(), setups: r.Setups,
		conditions: r.Conditions, surfaces: r.Surfaces, traces: true,
	}, gapM: r.FollowerGapM}
	if err := s.understand(r); err != nil {
		return nil, err
	}
	if err := e.checkAids(&s); err != nil {
		return nil, err
	}
	s.matrix = s.named()
	ctx, leave, err := e.enterRides(ctx, s.steps(s.rides()))
	if err != nil {
		return nil, err
	}
	defer leave()
	defer e.meter.time(ctx, stageAids)()
	return guard(func() (*Aids, error) { return e.findAids(ctx, &s) })
}

// checkAids holds the work against the limit of predictions.
func (e *Engine) checkAids(s *aidsScene) error {
	if err := e.checkMatrix(s.matrix); err != nil {
		return err
	}
	n := s.rides()
	if n <= e.limits.Predictions {
		return nil
	}
	return tooMany("#/riders", fmt.Sprintf("predictions, the aids counted as %d of them for each rider and set-up", s.cost()), e.limits.Predictions, n)
}

// rides is the number of predictions that the request is counted as.
func (s *aidsScene) rides() int {
	return len(s.riders)*max(1, len(s.setups))*(1+s.cost()) + s.plans()*(PlanCost-1)
}

// cost is that of all aids for one rider on one set-up.
func (s *aidsScene) cost() int {
	cost := len(s.aids) * (len(s.lines) / linesPerCost)
	for _, a := range s.aids {
		cost += a.cost()
	}
	return cost
}

// cost is the number of predictions that the aid is counted as.
func (a *ToldAid) cost() int {
	cost := AidCost * int(math.Ceil(a.DurationS/costS))
	if a.Denies() {
		cost *= deniedCost
	}
	return cost
}

// aidsScene is a matrix of rides with aids and lines.
type aidsScene struct {
	matrix
	aids  []ToldAid
	at    Span
	lines []Span
	gapM  float64
}

// understand finds the places that a request names.
func (s *aidsScene) understand(r AidsRequest) error {
	if err := s.understandLine(r.At); err != nil {
		return err
	}
	earning := 0
	for i, a := range r.Aids {
		told, err := s.told(a, fmt.Sprintf("#/aids/%d/", i))
		if err != nil {
			return err
		}
		s.aids = append(s.aids, told)
		earning += len(told.EarnedM)
	}
	if earning > MostAidPasses {
		return tooMany("#/aids", "passes that earn aids", MostAidPasses, earning)
	}
	s.lines = s.sprintLines()
	return nil
}

// understandLine finds where gains are taken: one pass, and not at the start.
func (s *aidsScene) understandLine(asked *Place) error {
	at := Place{Finish: true}
	if asked != nil {
		at = *asked
	}
	passes, err := at.Passes(s.course, s.from, s.to, "#/at")
	if err != nil {
		return err
	}
	if len(passes) > 1 {
		return &Error{Code: CodeNotComputable, Pointer: "#/at/pass", Detail: fmt.Sprintf(
			"%s has %d passes where the ride goes; say at which one time is to be gained.", cmp.Or(passes[0].Name, passes[0].ID), len(passes))}
	}
	s.at = passes[0]
	if s.at.EndM-s.from < minStretchM {
		return &Error{Code: CodeNotComputable, Pointer: "#/at", Detail: fmt.Sprintf(
			"The ride starts at %.3f m, and no aid can be used before %s at %.3f m.", s.from, s.at.Words(), s.at.EndM)}
	}
	return nil
}

// told finds the passes that earn an aid.
func (s *aidsScene) told(a Aid, pointer string) (ToldAid, error) {
	told := ToldAid{Aid: a}
	for i, id := range a.AvailableFrom {
		if slices.Contains(a.AvailableFrom[:i], id) {
			continue
		}
		p := Place{MarkID: id, AtM: math.NaN(), StartM: math.NaN(), EndM: math.NaN()}
		passes, err := p.Passes(s.course, s.from, s.to, "")
		if err != nil {
			var fault *Error
			if errors.As(err, &fault) {
				fault.Pointer = fmt.Sprintf("%savailable_from/%d", pointer, i)
			}
			return told, err
		}
		told.Earned = append(told.Earned, passes...)
	}
	slices.SortStableFunc(told.Earned, func(a, b Span) int { return cmp.Compare(a.StartM, b.StartM) })
	told.EarnedM = nil
	for _, p := range told.Earned {
		if n := len(told.EarnedM); n == 0 || told.EarnedM[n-1] < p.StartM-s.from {
			told.EarnedM = append(told.EarnedM, p.StartM-s.from)
		}
	}
	if len(told.Earned) > 0 {
		for _, span := range s.passes() {
			if span.EndM < told.Earned[0].StartM-roundingM {
				told.Without = append(told.Without, span)
			}
		}
		slices.SortStableFunc(told.Without, func(a, b Span) int { return cmp.Compare(a.EndM, b.EndM) })
	}
	return told, nil
}

// passes are those of climbs and marks on the stretch, each with the number of its passes on
// the whole course.
func (s *aidsScene) passes() []Span {
	type feature struct {
		of Feature
		id string
	}
	last := map[feature]int{}
	for _, span := range spansOf(s.course, 0, s.course.LengthM()) {
		last[feature{span.Of, span.ID}] = span.Pass
	}
	var passes []Span
	for _, span := range spansOf(s.course, s.from, s.to) {
		if span.Of != FeaturePart {
			span.Passes = last[feature{span.Of, span.ID}]
			passes = append(passes, span)
		}
	}
	return passes
}

// sprintLines are the passes of sprint lines and the finish, in order, up to the line of At
// and with it as the last, where it is a line.
func (s *aidsScene) sprintLines() []Span {
	if s.at.EndM > s.at.StartM {
		return nil
	}
	var lines []Span
	for _, span := range s.passes() {
		if span.Of == FeatureMark && span.Kind == "sprint" && span.StartM < s.at.EndM-minStretchM && span.StartM > s.from+minStretchM {
			lines = append(lines, span)
		}
	}
	slices.SortStableFunc(lines, func(a, b Span) int { return cmp.Compare(a.StartM, b.StartM) })
	return append(lines, s.at)
}
